"""The form that chooses who signs for a booking."""

from typing import Any

from django import forms
from django.utils.translation import gettext_lazy as _

from kitshare.bookings.models import Booking
from kitshare.people.models import Member
from kitshare.web.bookings.forms import RevisionForm


class SignerForm(RevisionForm):
    """Who of the village's borrowers signs for a booking."""

    borrower = forms.ModelChoiceField(
        label=_("Who signs"), queryset=Member.objects.none(), widget=forms.RadioSelect, empty_label=None
    )

    def __init__(self, *args: Any, booking: Booking, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        field = self.fields["borrower"]
        assert isinstance(field, forms.ModelChoiceField)  # noqa: S101
        field.queryset = booking.village.borrowers.active().order_by("name", "pk")
        self.initial.setdefault("borrower", booking.borrower_id)
        self.initial["revision"] = booking.revision
