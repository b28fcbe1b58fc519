"""What a booking's days gave beside what was expected of them, for its own page, the booking's and the form."""

from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum

from django.db.models import Prefetch, QuerySet
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.people.models import Member
from kitshare.pressdays import recording
from kitshare.pressdays.learning import belief_for, rests_on
from kitshare.pressdays.record_models import USES, PressDayRecord
from kitshare.rules.yields import Belief, JuiceForecast, forecast


class Against(StrEnum):
    """How a day compares with what was expected nine times in ten."""

    LESS = "less"
    WITHIN = "within"
    MORE = "more"


@dataclass(frozen=True, slots=True, kw_only=True)
class DayGave:
    """One recorded day, with the forecast for its fruit; none where nothing was pressed."""

    record: PressDayRecord
    expected: JuiceForecast | None

    @property
    def uses(self) -> list[tuple[str, Decimal]]:
        """The juice by what became of it, where there is any."""
        names = [f"litres_{use}" for use in USES]
        words = [str(PressDayRecord._meta.get_field(name).verbose_name) for name in names]  # type: ignore[union-attr]
        pairs = zip(words, (getattr(self.record, name) for name in names), strict=True)
        return [(word, litres) for word, litres in pairs if litres]

    @property
    def against(self) -> Against | None:
        if self.expected is None:
            return None
        litres = float(self.record.litres)
        if litres < self.expected.low:
            return Against.LESS
        return Against.MORE if litres > self.expected.high else Against.WITHIN


@dataclass(frozen=True, slots=True, kw_only=True)
class GaveFacts:
    """What the days of a booking gave, and what its fruit was expected to give."""

    booking: Booking
    days: list[DayGave]
    expected: JuiceForecast
    rests_on: str
    may_record: bool
    went_out: bool

    @property
    def litres(self) -> Decimal:
        return sum((day.record.litres for day in self.days), Decimal(0))

    @property
    def pressed_kg(self) -> Decimal:
        return sum((day.record.pressed_kg for day in self.days), Decimal(0))


def gave_facts(booking: Booking, member: Member) -> GaveFacts:
    """Three queries and, for a borrower, one more; machines of the days included."""
    records = list(records_of(booking))
    belief, evidence = belief_for(booking)
    return GaveFacts(
        booking=booking,
        days=[DayGave(record=record, expected=_expected(record, belief)) for record in records],
        expected=forecast(float(booking.fruit_kg), belief),
        rests_on=rests_on(evidence),
        may_record=recording.can_record(booking=booking, by=member),
        went_out=booking.stage in recording.WENT_OUT,
    )


def records_of(booking: Booking) -> QuerySet[PressDayRecord]:
    """The recorded days of a booking in order, each with its machines and who recorded it."""
    machines = Prefetch("machines", Machine.objects.order_by("position", "pk"))
    return booking.day_records.select_related("recorded_by").prefetch_related(machines).order_by("day")


def word_after(record: PressDayRecord) -> str:
    """What is said once a day is saved."""
    if record.litres_per_kg is None:
        return _("Written down: nothing was pressed.")
    words = {"yield": f"{record.litres_per_kg:.2f}"}
    return _("Written down. That is %(yield)s litres from a kilogram. Thank you.") % words


def kinds_of_fruit() -> list[str]:
    """The kinds that were written before, the newest first, to be chosen again instead of typed anew."""
    newest = PressDayRecord.objects.exclude(fruit="").order_by("-day", "-pk").values_list("fruit", flat=True)[:60]
    return list({kind.casefold(): kind for kind in reversed(list(newest))}.values())[::-1][:12]


def _expected(record: PressDayRecord, belief: Belief) -> JuiceForecast | None:
    return forecast(float(record.pressed_kg), belief) if record.pressed_kg else None
