"""What people send of a heat log: rows that they type, a text that they paste, or a logger's file."""

from collections.abc import Iterator
from decimal import Decimal
from typing import Any, Final

from django import forms
from django.core.exceptions import ValidationError
from django.forms import BoundField
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.pressdays.words import log_refusal
from kitshare.rules.readings import LogProblem, LogRefused, TemperatureUnit, UnitUnknown, read_log
from kitshare.rules.readings_table import decoded
from kitshare.web.forms import AmountField, TimeOfDayField

ROWS_AT_FIRST: Final = 12
ROWS_MORE: Final = 12
ROWS_AT_MOST: Final = 120
MOST_BYTES: Final = 20_000_000
MENDED_BY_HAND: Final = 200_000  # characters; a longer log is mended where it comes from

UNITS: Final = [(TemperatureUnit.CELSIUS.value, "°C"), (TemperatureUnit.FAHRENHEIT.value, "°F")]
WHICH_UNIT: Final = _("Choose Celsius or Fahrenheit: what the probe showed.")


def question_only(refused: LogRefused) -> bool:
    """Whether a log needs but an answer, which the next page asks for."""
    return isinstance(refused, UnitUnknown) or refused.problem == LogProblem.TIME_UNIT_UNKNOWN


class TypedForm(forms.Form):
    """A log by hand: a time and a temperature in each row. Rows left empty are passed over."""

    unit = forms.ChoiceField(
        label=_("The probe shows"), choices=UNITS, widget=forms.RadioSelect, error_messages={"required": WHICH_UNIT}
    )
    times = forms.ChoiceField(
        label=_("The times are"),
        choices=[("clock", _("times of day, such as 14.05")), ("minutes", _("minutes since the first reading"))],
        initial="clock",
        widget=forms.RadioSelect,
    )

    def __init__(self, *args: Any, rows: int, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.rows = rows
        self.text = ""
        widget_facts = {"inputmode": "decimal", "autocomplete": "off", "class": "short"}
        for row in range(1, rows + 1):
            self.fields[f"time-{row}"] = forms.CharField(
                label=gettext("Time of reading %(row)s") % {"row": row},
                required=False,
                max_length=10,
                widget=forms.TextInput(attrs=widget_facts),
            )
            self.fields[f"degrees-{row}"] = AmountField(
                label=gettext("Temperature of reading %(row)s") % {"row": row}, required=False, decimal_places=2
            )

    def pairs(self) -> Iterator[tuple[int, BoundField, BoundField]]:
        """The rows as the page shows them."""
        for row in range(1, self.rows + 1):
            yield row, self[f"time-{row}"], self[f"degrees-{row}"]

    def clean(self) -> dict[str, Any]:
        """Read the rows as the rules read any log, so that a time that runs backwards is told by its row."""
        facts = self.cleaned_data
        lines: list[str] = []
        rows: list[int] = []
        for row in range(1, self.rows + 1):
            time, degrees = facts.get(f"time-{row}"), facts.get(f"degrees-{row}")
            if f"degrees-{row}" in self.errors or (not time and degrees is None):
                continue
            said = self._time(row, time or "")
            if degrees is None:
                self.add_error(f"degrees-{row}", gettext("A temperature is missing in this row."))
            if said and degrees is not None:
                lines.append(f"{said};{degrees}")
                rows.append(row)
        if not self.errors:
            self._read(lines, rows)
        return facts

    def _time(self, row: int, time: str) -> str:
        """A time as the log has it; empty, with its error told, where it is none."""
        field = AmountField() if self.cleaned_data.get("times") == "minutes" else TimeOfDayField(required=True)
        if not time:
            self.add_error(f"time-{row}", gettext("A time is missing in this row."))
            return ""
        try:
            said = field.clean(time)
        except ValidationError as wrong:
            self.add_error(f"time-{row}", wrong)
            return ""
        return str(said) if isinstance(said, Decimal) else f"{said:%H:%M:%S}"

    def _read(self, lines: list[str], rows: list[int]) -> None:
        heading = "minutes" if self.cleaned_data["times"] == "minutes" else "time"
        text = "\n".join([f"{heading};juice ({self.cleaned_data['unit']})", *lines])
        try:
            if not lines:
                raise LogRefused(LogProblem.EMPTY)
            read_log(text)
        except LogRefused as refused:
            place = (refused.line or 0) - 2
            field = f"degrees-{rows[place]}" if refused.problem == LogProblem.OUT_OF_BOUNDS else None
            if field is None and 0 <= place < len(rows):
                field = f"time-{rows[place]}"
            refused.line = None
            self.add_error(field, log_refusal(refused))
        self.text = text


class PastedForm(forms.Form):
    """A log as text, in whatever shape: the next page shows how it was understood."""

    text = forms.CharField(
        label=_("The readings"),
        max_length=2_400_000,
        widget=forms.Textarea(attrs={"rows": 14, "autocomplete": "off", "spellcheck": "false", "class": "heat-text"}),
        help_text=_("A time and a temperature in each line. A heading may say what the columns are."),
        error_messages={"required": _("Paste the readings here.")},
    )

    def clean_text(self) -> str:
        text: str = self.cleaned_data["text"]
        try:
            read_log(text)
        except LogRefused as refused:
            if not question_only(refused):
                raise ValidationError(log_refusal(refused)) from refused
        return text


class UploadForm(forms.Form):
    """A logger's file. `mendable` is its text, where it can be read as text but not as a log."""

    file = forms.FileField(
        label=_("The logger's file"),
        allow_empty_file=True,
        help_text=_("CSV or plain text from any logger, 20 MB at most. From a spreadsheet, save it as CSV first."),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.log,text/*"}),
        error_messages={"required": _("Choose the file.")},
    )

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.mendable = ""

    def clean_file(self) -> dict[str, Any]:
        """The file's name and bytes."""
        upload = self.cleaned_data["file"]
        if upload.size > MOST_BYTES:
            raise ValidationError(gettext("This file is too large: 20 MB are the most. Send the part with the batch."))
        data: bytes = upload.read()
        try:
            read_log(data)
        except LogRefused as refused:
            if not question_only(refused):
                self.mendable = _as_text(data)
                raise ValidationError(log_refusal(refused)) from refused
        return {"name": "".join(sign for sign in upload.name if sign.isprintable()), "data": data}


def _as_text(data: bytes) -> str:
    try:
        text = decoded(data)
    except LogRefused:
        return ""
    return text if len(text) <= MENDED_BY_HAND else ""
