"""The one palette: every pair of colours that meets on a page can be told apart.

Contrast by the formula of WCAG 2.2, "relative luminance" and "contrast ratio"; 4.5 for text (success criterion 1.4.3) and
3 for lines and shapes that mean something (1.4.11).
"""

import re
from pathlib import Path

import pytest

STYLES = Path(__file__).resolve().parents[2] / "kitshare" / "web" / "static" / "kitshare"
BASE = (STYLES / "base.css").read_text()
GROUNDS = ("page", "panel")
TEXT = [(ink, ground) for ink in ("ink", "muted", "done", "stop", "care", "plum") for ground in GROUNDS]
TEXT += [(name, f"{name}-tint") for name in ("done", "stop", "care", "plum")]
TEXT += [("ink", "layer"), ("ink", "done-tint"), ("on-juice", "juice"), ("on-fill", "done-fill")]
SHAPES = [(shape, ground) for shape in ("line", "post", "focus", "done-fill", "stop", "plum") for ground in GROUNDS]


def palettes() -> dict[str, dict[str, str]]:
    light, dark = re.findall(r":root \{(.*?)\}", BASE, flags=re.S)[:2]
    named = [dict(re.findall(r"--([\w-]+): (#[0-9A-Fa-f]{6});", block)) for block in (light, dark)]
    return {"light": named[0], "dark": named[0] | named[1]}


def luminance(colour: str) -> float:
    parts = [int(colour[start : start + 2], 16) / 255 for start in (1, 3, 5)]
    linear = [part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts]
    return 0.2126 * linear[0] + 0.7152 * linear[1] + 0.0722 * linear[2]


def contrast(one: str, other: str) -> float:
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def test_the_formula_gives_the_published_ends_of_its_scale():
    """WCAG 2.2: the ratio runs from 1 to 21."""
    assert contrast("#FFFFFF", "#000000") == pytest.approx(21)
    assert contrast("#8C1130", "#8C1130") == pytest.approx(1)
    assert contrast("#777777", "#FFFFFF") == pytest.approx(4.48, abs=0.005)  # the well-known grey that just fails


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("ink", "ground"), TEXT)
def test_text_can_be_read(scheme, ink, ground):
    colours = palettes()[scheme]

    assert contrast(colours[ink], colours[ground]) >= 4.5


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("shape", "ground"), SHAPES)
def test_lines_and_shapes_can_be_seen(scheme, shape, ground):
    colours = palettes()[scheme]

    assert contrast(colours[shape], colours[ground]) >= 3


def test_both_schemes_name_the_same_colours():
    light, dark = (
        set(re.findall(r"--([\w-]+):", block)) for block in re.findall(r":root \{(.*?)\}", BASE, flags=re.S)[:2]
    )

    assert light == dark


def test_no_colour_is_named_outside_the_palette():
    named = re.compile(r"#[0-9A-Fa-f]{3,8}\b|\b(?:rgb|rgba|hsl|oklch)\(")
    for file in sorted(STYLES.glob("*.css")):
        outside = re.sub(r":root \{.*?\}", "", file.read_text(), flags=re.S)
        assert named.findall(outside) == [], file.name
