"""The hands and hours of a press day: what is usual, what a village says, and keeping it."""

from dataclasses import dataclass
from datetime import datetime, time, timedelta
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings.models import HOLDING, Booking
from kitshare.engine import deed
from kitshare.logbook import actions as logbook
from kitshare.people.models import Member
from kitshare.pressdays.clock_models import ClockPlan
from kitshare.rules.crew import MOST_HELPERS
from kitshare.rules.outlook import USUAL_HELPERS

USUAL_START: Final = time(9)
USUAL_END: Final = time(18)
LATEST: Final = time(23, 59)


class ClockRefused(Exception):
    """Hands or hours that cannot be. `field` names what to correct, if one thing is."""

    field: str | None = None


class NotTheirClock(ClockRefused):
    """Somebody who neither signs for the village nor coordinates."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("Hands and hours are changed by those who sign for %(village)s and by the coordinator.")
        super().__init__(sentence % {"village": booking.village})


class DayIsOver(ClockRefused):
    """The booking does not hold machines: not yet, or no longer."""

    def __init__(self, booking: Booking) -> None:
        sentence = _("This booking is %(stage)s, so its hands and hours stay as they are.")
        super().__init__(sentence % {"stage": booking.get_stage_display()})


class TooManyOrNone(ClockRefused):
    """No helper, or more than a yard holds."""

    field = "helpers"

    def __init__(self) -> None:
        super().__init__(_("Give the number of helpers, from 1 to %(most)s.") % {"most": MOST_HELPERS})


class EndsBeforeItStarts(ClockRefused):
    """The end of the day is not after its start."""

    field = "ends_at"

    def __init__(self) -> None:
        super().__init__(_("The end must be later than the start, on the same day."))


class ClockChangedMeanwhile(ClockRefused):
    """Somebody saved other hands or hours since the page was opened. `plan` is theirs."""

    def __init__(self, plan: ClockPlan) -> None:
        sentence = _(
            "%(who)s saved other hands and hours since you opened this page: %(theirs)s."
            " What you typed is still below; save once more to put it in place of theirs."
        )
        super().__init__(sentence % {"who": plan.changed_by.name, "theirs": in_words(Hours.of(plan))})
        self.plan = plan


@dataclass(frozen=True, slots=True, kw_only=True)
class Hours:
    """Helpers (1 to 200), from when till when, and whether to reckon with one more pasteuriser."""

    helpers: int
    starts_at: time
    ends_at: time
    one_more_bath: bool = False

    @classmethod
    def of(cls, plan: ClockPlan) -> "Hours":
        """What a row says."""
        return cls(
            helpers=plan.helpers, starts_at=plan.starts_at, ends_at=plan.ends_at, one_more_bath=plan.one_more_bath
        )

    @property
    def minutes(self) -> int:
        """Minutes from start to end."""
        return _minute_of(self.ends_at) - _minute_of(self.starts_at)


def _minute_of(at: time) -> int:
    return 60 * at.hour + at.minute


def usual_hours(booking: Booking) -> Hours:
    """Six helpers from nine to six. A kit for one night is used on the day on which it is collected, not before."""
    one_night = booking.back_on - booking.out_on == timedelta(days=1)
    starts_at = max(USUAL_START, booking.out_time.replace(second=0)) if one_night else USUAL_START
    starts_at = min(starts_at, time(22))
    return Hours(helpers=USUAL_HELPERS, starts_at=starts_at, ends_at=USUAL_END if starts_at < USUAL_END else LATEST)


def hours_of(booking: Booking) -> tuple[Hours, ClockPlan | None]:
    """What a village said of its day, with the row that says so; else what is usual."""
    plan = ClockPlan.objects.filter(booking=booking).select_related("changed_by").first()
    return (Hours.of(plan), plan) if plan else (usual_hours(booking), None)


def in_words(hours: Hours) -> str:
    """Such as "6 helpers, 09:00 to 18:00, with one more pasteuriser"."""
    words = {
        "helpers": hours.helpers,
        "start": f"{hours.starts_at:%H:%M}",
        "end": f"{hours.ends_at:%H:%M}",
    }
    if hours.one_more_bath:
        return _("helpers: %(helpers)s, from %(start)s to %(end)s, with one more pasteuriser") % words
    return _("helpers: %(helpers)s, from %(start)s to %(end)s") % words


def check_can_change(*, booking: Booking, by: Member) -> None:
    """Raise ClockRefused unless this member may change the hands and hours of this booking now.

    Also on the day itself, when the kit is out: people come and go.
    """
    if not by.acts_for(booking.village):
        raise NotTheirClock(booking)
    if booking.stage not in HOLDING:
        raise DayIsOver(booking)


def why_not_change(*, booking: Booking, by: Member) -> str:
    """Why this member may not change them now; empty when they may."""
    try:
        check_can_change(booking=booking, by=by)
    except ClockRefused as refused:
        return str(refused)
    return ""


@deed
def save_hours(
    *, booking: Booking, hours: Hours, by: Member, at: datetime, seen_revision: int | None = None
) -> ClockPlan:
    """Keep the hands and hours of a press day. Saving what is saved already changes nothing.

    `seen_revision` is that of the row which the person had before them, 0 for none; without it the last save counts.
    """
    booking = Booking.objects.select_for_update(of=("self",)).select_related("village").get(pk=booking.pk)
    check_can_change(booking=booking, by=by)
    if not 1 <= hours.helpers <= MOST_HELPERS:
        raise TooManyOrNone
    if hours.minutes < 1:
        raise EndsBeforeItStarts
    plan = ClockPlan.objects.filter(booking=booking).select_related("changed_by").first()
    if plan and Hours.of(plan) == hours:
        return plan
    if plan and seen_revision is not None and seen_revision != plan.revision:
        raise ClockChangedMeanwhile(plan)
    plan = plan or ClockPlan(booking=booking, revision=0)
    plan.helpers, plan.one_more_bath = hours.helpers, hours.one_more_bath
    plan.starts_at, plan.ends_at = hours.starts_at, hours.ends_at
    plan.changed_at, plan.changed_by = at, by
    plan.revision += 1
    plan.save()
    text = _("Planned hands and hours of the press day: %(hours)s.") % {"hours": in_words(hours)}
    logbook.write(deed="press_day_hours_saved", text=text, about=[booking, booking.village], by=by, at=at)
    return plan
