"""What checks saw of a part as a picture: a mark for each handover, drawn on the server by class names alone."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from kitshare.checks.models import CONDITIONS, CheckLine

# Within the 400 by 150 of the template.
LEFT: Final = 84.0
RIGHT: Final = 388.0
TOP: Final = 18.0
STEP: Final = 30.0
FEWEST: Final = 6  # handovers for which there is room at least, so that two do not stand at the two edges


@dataclass(frozen=True, slots=True, kw_only=True)
class Row:
    """A condition as a line across, from best to worst."""

    at: float
    words: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """One handover; `is_new` where a spare took the part's place at it."""

    x: float
    y: float
    condition: str
    is_new: bool


@dataclass(frozen=True, slots=True, kw_only=True)
class Chart:
    """Everything the picture needs, in its own coordinates."""

    rows: list[Row]
    marks: list[Mark]
    line: str

    @property
    def has_new(self) -> bool:
        """Whether a spare took the part's place at any of them."""
        return any(mark.is_new for mark in self.marks)


def draw(lines: Sequence[CheckLine]) -> Chart:
    """Lay out check lines, the oldest first."""
    heights = {str(value): TOP + STEP * place for place, (value, _word) in enumerate(CONDITIONS)}
    gap = (RIGHT - LEFT) / max(len(lines) - 1, FEWEST - 1)
    marks = [
        Mark(
            x=round(LEFT + gap * place, 1),
            y=heights[line.condition],
            condition=line.condition,
            is_new=line.spare_fitted,
        )
        for place, line in enumerate(lines)
    ]
    return Chart(
        rows=[Row(at=heights[str(value)], words=str(word)) for value, word in CONDITIONS],
        marks=marks,
        line=" ".join(f"{mark.x},{mark.y}" for mark in marks),
    )
