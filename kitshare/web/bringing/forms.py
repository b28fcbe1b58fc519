"""The form that takes a file of bookings, and what holds for rows that do not say it themselves."""

import hashlib
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.core.exceptions import ValidationError
from django.utils.translation import gettext
from django.utils.translation import gettext_lazy as _

from kitshare.bringing.models import ComingAs, Telling
from kitshare.bringing.reading import read, too_large
from kitshare.bringing.rows import MOST_BYTES, FileRefused
from kitshare.web.forms import AmountField


class BringForm(forms.Form):
    """Reads the file while it checks it: one that cannot be read is refused beside its field, with the line."""

    file = forms.FileField(
        label=_("The file"),
        allow_empty_file=True,
        help_text=_("An .ics from a calendar, a CSV, or an Excel workbook (.xlsx); 2 MB at most."),
        widget=forms.FileInput(attrs={"accept": ".ics,.csv,.tsv,.txt,.xlsx"}),
    )
    coming_as = forms.ChoiceField(
        label=_("Bookings still to come are"),
        choices=ComingAs.choices,
        initial=ComingAs.AGREED,
        widget=forms.RadioSelect,
        help_text=_("Where the file does not say. What is over is closed."),
    )
    fruit_kg = AmountField(
        label=_("Fruit for rows without an amount, in kilograms"),
        required=False,
        min_value=Decimal("0.1"),
        max_value=Decimal(20_000),
        decimal_places=1,
        help_text=_("Left empty, a row without an amount of fruit is not understood."),
    )
    telling = forms.ChoiceField(
        label=_("Who is told"), choices=Telling.choices, initial=Telling.NOBODY, widget=forms.RadioSelect
    )

    def __init__(self, *args: Any, zone: ZoneInfo, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.zone = zone
        self.fields["file"].error_messages["required"] = gettext("Choose the file.")

    def clean_file(self) -> dict[str, Any]:
        """What `keep` asks for of a file: its name, its digest and its rows."""
        upload = self.cleaned_data["file"]
        if upload.size > MOST_BYTES:
            raise ValidationError(too_large())
        data = upload.read()
        try:
            sheet = read(data, zone=self.zone)
        except FileRefused as refusal:
            raise ValidationError(str(refusal)) from refusal
        if not sheet.rows:
            raise ValidationError(gettext("No booking is in the file."))
        name = "".join(sign for sign in upload.name if sign.isprintable())
        return {"name": name, "digest": hashlib.sha256(data).hexdigest(), "sheet": sheet}
