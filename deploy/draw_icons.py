"""Draws the icons of the site: a pressing stack between its two posts. Run once after a change of the drawing.

.venv/bin/python deploy/draw_icons.py
"""

from pathlib import Path

from PIL import Image, ImageDraw

FOLDER = Path(__file__).resolve().parent.parent / "kitshare" / "web" / "static" / "kitshare" / "icons"
GROUND, POST, PINE, JUICE, INK = "#F5F8EC", "#4A2F1B", "#1E7A66", "#E7A51C", "#16241A"
FINE = 4  # drawn so many times larger, then made small: smooth edges
# A phone may cut a maskable icon down to a circle of four fifths: everything stands within it.
WHOLE, WITHIN = 0.84, 0.54


def icon(size: int, share: float, *, rounded: bool) -> Image.Image:
    """The stack, over this share of a square of so many pixels."""
    side = size * FINE
    picture = Image.new("RGBA", (side, side), (0, 0, 0, 0))
    draw = ImageDraw.Draw(picture)
    draw.rounded_rectangle((0, 0, side - 1, side - 1), radius=side // 6 if rounded else 0, fill=GROUND)
    unit = side * share / 36
    edge = (side - 36 * unit) / 2

    def block(left: float, top: float, width: float, height: float, fill: str, line: bool = False) -> None:
        box = (edge + left * unit, edge + top * unit, edge + (left + width) * unit, edge + (top + height) * unit)
        draw.rounded_rectangle(box, radius=unit, fill=fill, outline=INK if line else None, width=int(unit * 0.8))

    for left in (3, 29):
        block(left, 2, 4, 32, POST)
    block(9, 6, 18, 3, PINE)
    block(9, 11, 18, 6, JUICE, line=True)
    block(9, 19, 18, 3, PINE)
    block(9, 24, 18, 8, JUICE, line=True)
    return picture.resize((size, size), Image.Resampling.LANCZOS)


def main() -> None:
    FOLDER.mkdir(exist_ok=True)
    for size in (192, 512):
        icon(size, WHOLE, rounded=True).quantize(64).save(FOLDER / f"any-{size}.png", optimize=True)
        icon(size, WITHIN, rounded=False).quantize(64).save(FOLDER / f"maskable-{size}.png", optimize=True)
    icon(180, 0.7, rounded=False).quantize(64).save(FOLDER / "touch-180.png", optimize=True)


if __name__ == "__main__":
    main()
