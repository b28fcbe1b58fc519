"""The juice to expect of a booking that is still being looked over: the numbers that its plan will begin with."""

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from kitshare.bookings.models import Booking
from kitshare.kits.models import Machine
from kitshare.people.models import Village
from kitshare.pressdays.learning import belief_for, rests_on
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.planning import juice_of
from kitshare.pressdays.wanted import wanted_for
from kitshare.rules.periods import Period
from kitshare.rules.yields import JuiceForecast


@dataclass(frozen=True, slots=True, kw_only=True)
class FirstLook:
    """Litres to expect, and what that rests on."""

    juice: JuiceForecast
    rests_on: str


def first_look(
    *,
    booking: Booking | None,
    village: Village,
    period: Period,
    machines: Sequence[Machine],
    fruit_kg: Decimal,
) -> FirstLook:
    """What would be expected of these machines, days and fruit. `booking` is the one that is changed, if any."""
    asked = Booking(pk=booking.pk if booking else None, village=village, out_on=period.start, fruit_kg=fruit_kg)
    wanted = wanted_for(asked, ContainerKind.objects.order_by("position", "pk"))
    learned = belief_for(asked, fruit=wanted.fruit_word, machines=machines)
    _fruit, _belief, evidence, juice = juice_of(asked, wanted, learned=learned)
    return FirstLook(juice=juice, rests_on=rests_on(evidence))
