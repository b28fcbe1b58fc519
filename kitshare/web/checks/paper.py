"""A check that was signed on paper, typed in afterwards by a coordinator with the day and time that stand on it."""

from datetime import datetime
from typing import Any

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from kitshare.bookings.models import Booking
from kitshare.checks.coming import Came
from kitshare.checks.gates import (
    BriefingFirst,
    DaysAreOver,
    HandoverRefused,
    SetAside,
    SharedPartAway,
    first_day_of_pickup,
)
from kitshare.checks.lines import PickupStopped, handed_over
from kitshare.checks.models import CheckKind
from kitshare.web.access import PageRequest
from kitshare.web.forms import DayField, TimeOfDayField
from kitshare.web.templatetags.kitshare import day, moment

# What stops a handover now, and may have been passed by when the paper was signed.
PASSED_BY = (BriefingFirst, SetAside, SharedPartAway, PickupStopped)


class PaperForm(forms.Form):
    """When it was signed, and whether parts without a tick are to stay so."""

    paper = forms.CharField(widget=forms.HiddenInput, initial="1")
    paper_on = DayField(label=gettext_lazy("Day on the paper"))
    paper_at = TimeOfDayField(
        label=gettext_lazy("Time on the paper"),
        required=True,
        help_text=gettext_lazy("If none stands on it, when the booking says that people meet."),
    )
    paper_unseen = forms.BooleanField(
        label=gettext_lazy("Parts without a tick on the paper are recorded as not looked at"), required=False
    )

    def __init__(self, data: Any = None, *, booking: Booking, kind: CheckKind, now: datetime) -> None:
        is_return = kind == CheckKind.RETURN
        met = {
            "paper_on": booking.back_on if is_return else booking.out_on,
            "paper_at": booking.back_time if is_return else booking.out_time,
        }
        super().__init__(data, initial=met)
        self.booking, self.kind, self.now = booking, kind, now

    def clean(self) -> dict[str, Any]:
        said = self.cleaned_data
        if said.get("paper_on") and said.get("paper_at"):
            self._check_within(self.signed_at)
        return said

    @property
    def signed_at(self) -> datetime:
        """The moment on the paper, by the scheme's clock."""
        said = self.cleaned_data
        return timezone.make_aware(datetime.combine(said["paper_on"], said["paper_at"]))

    def _check_within(self, signed_at: datetime) -> None:
        if signed_at > self.now:
            self.add_error("paper_on", _("This is still to come. Give the day and time at which it was signed."))
        elif self.kind == CheckKind.RETURN:
            out = handed_over(self.booking, CheckKind.PICKUP)
            if out is not None and signed_at < out.done_at:
                words = {"moment": moment(out.done_at)}
                self.add_error("paper_on", _("The kit went out only at %(moment)s, and came back after that.") % words)
        elif not first_day_of_pickup(self.booking) <= signed_at.date() < self.booking.back_on:
            words = {"first": day(first_day_of_pickup(self.booking)), "back": day(self.booking.back_on)}
            sentence = _("This booking runs from %(first)s, when the kit may be fetched, to the morning of %(back)s.")
            self.add_error("paper_on", sentence % words)


def paper_for(request: PageRequest, booking: Booking, kind: CheckKind) -> PaperForm | None:
    """The fields about the paper, where a coordinator types one in; nobody else is asked."""
    if not request.user.coordinates:
        return None
    now = timezone.now()
    if request.method == "POST" and request.POST.get("paper"):
        return PaperForm(request.POST, booking=booking, kind=kind, now=now)
    if request.method != "POST" and request.GET.get("paper"):
        return PaperForm(booking=booking, kind=kind, now=now)
    return None


def is_of_this_moment(request: PageRequest) -> bool:
    """Whether the sheet is for a paper, or carried on from somebody: no phone keeps that in place of a fresh one."""
    return "paper" in request.GET or "carry_on" in request.GET


def may_be_typed_in(refusal: HandoverRefused) -> bool:
    """Whether what keeps a kit now says nothing about a handover that was before."""
    return isinstance(refusal, (DaysAreOver, *PASSED_BY))


def terms(request: PageRequest, paper: PaperForm | None) -> dict[str, Any]:
    """When it was signed and how it came, for the deed: here and now, or on paper before."""
    now = timezone.now()
    if paper is None:
        return {"at": now, "today": timezone.localdate()}
    went_on = request.POST.get("deed") == "in_spite"
    came = Came(
        written_at=now,
        on_paper=True,
        past_gates=went_on,
        past_stops=went_on,
        unseen_may_be=paper.cleaned_data["paper_unseen"],
    )
    return {"at": paper.signed_at, "today": paper.cleaned_data["paper_on"], "came": came}
