"""What a calendar warns of: machines that are set aside, and safety tests that come before a booking."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date
from typing import Final

from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import Machine
from kitshare.upkeep import fitness


@dataclass(frozen=True, slots=True)
class AtRisk:
    """Which machines are set aside, and when the first safety test of each is due, as it stands on a day."""

    today: date
    set_aside: frozenset[int] = frozenset()
    tests: Mapping[int, date] = field(default_factory=dict)

    @classmethod
    def on(cls, today: date) -> "AtRisk":
        """Asked of all machines at once. Three queries."""
        return cls(today, frozenset(fitness.faults_by_machine()), fitness.next_tests())

    @property
    def facts(self) -> tuple[object, ...]:
        """All that its sentences go by, the same whenever they are the same."""
        overdue = sorted(key for key, due in self.tests.items() if due < self.today)
        return sorted(self.set_aside), sorted(self.tests.items()), overdue

    def of(self, booking: Booking, machines: Sequence[Machine]) -> list[str]:
        """What stands in the way of an agreed booking. No fault in its own words: a calendar is read by many."""
        if booking.stage != Stage.AGREED:
            return []
        day = max(booking.out_on, self.today)
        aside = [machine.name for machine in machines if machine.pk in self.set_aside]
        tests = [machine.name for machine in machines if self.tests.get(machine.pk, day) < day]
        said = [
            (_("At risk. Set aside until mended and released: %(machines)s."), aside),
            (_("At risk. A safety test comes first: %(machines)s."), tests),
        ]
        return [sentence % {"machines": ", ".join(names)} for sentence, names in said if names]


NOTHING_AT_RISK: Final = AtRisk(date.min)
