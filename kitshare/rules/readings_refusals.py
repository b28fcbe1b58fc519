"""Why a log of readings cannot be taken as it stands: a code, the line, and the text that was
there.
"""

from enum import StrEnum


class LogProblem(StrEnum):
    """What is wrong with a log."""

    EMPTY = "empty"
    BINARY = "binary"
    TOO_LONG = "too_long"
    NO_READINGS = "no_readings"
    NO_TIME_COLUMN = "no_time_column"
    NO_TEMPERATURE_COLUMN = "no_temperature_column"
    UNEVEN_ROW = "uneven_row"
    BAD_TIME = "bad_time"
    BAD_TEMPERATURE = "bad_temperature"
    OUT_OF_BOUNDS = "out_of_bounds"
    BACKWARDS = "backwards"
    UNIT_UNKNOWN = "unit_unknown"
    TIME_UNIT_UNKNOWN = "time_unit_unknown"
    DECIMALS_UNCLEAR = "decimals_unclear"


class LogRefused(ValueError):
    """A log cannot be taken as it stands.

    `line` counts from one in the text given, or is None where the whole is meant; `value` is what
    stood there. `row` is the place among the readings and is used on the way to the line.
    """

    def __init__(
        self,
        problem: LogProblem,
        *,
        value: str = "",
        line: int | None = None,
        row: int | None = None,
    ) -> None:
        """Keep the parts; the message is for a log file, a page has its own words."""
        super().__init__(f"{problem} at line {line}: {value!r}")
        self.problem = problem
        self.value = value[:80]
        self.line = line
        self.row = row


class UnitUnknown(LogRefused):
    """Nothing says Celsius or Fahrenheit and the numbers fit Fahrenheit: the person is to be asked,
    never guessed for.
    """

    def __init__(self, highest: float) -> None:
        """Keep the highest number seen, which is why the question arises."""
        super().__init__(LogProblem.UNIT_UNKNOWN, value=f"{highest:g}")
        self.highest = highest
