"""Why a service or a safety test cannot be planned, changed or recorded so: each with a sentence fit to show."""

from datetime import date

from django.utils.translation import gettext as _

from kitshare.kits.models import Machine
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.words import day_with_year


class CareRefused(Exception):
    """A plan or a record that cannot be so. `field` names what to correct, if anything typed is at fault."""

    field: str | None = None


class NotTheirs(CareRefused):
    """The deed belongs to somebody else's role."""

    def __init__(self) -> None:
        super().__init__(_("This is for maintenance volunteers and the coordinator. Telephone the coordinator."))


class NothingWritten(CareRefused):
    """The deed needs a sentence, and none was given."""

    def __init__(self, *, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class PlanNameTaken(CareRefused):
    """The machine has another plan of that name."""

    field = "name"

    def __init__(self, *, name: str, machine: Machine) -> None:
        words = {"name": name, "machine": machine.name}
        super().__init__(
            _("“%(name)s” is planned for %(machine)s already. Change that plan, or choose a name.") % words
        )


class IntervalNotSensible(CareRefused):
    """Less than a day, or more than ten years."""

    field = "every"

    def __init__(self) -> None:
        super().__init__(_("Give a whole number from 1 up; ten years at most."))


class UseNotSensible(CareRefused):
    """A service that would go by no use at all, or by more than a machine ever does; or by kilograms it never mills."""

    def __init__(self, *, field: str, sentence: str) -> None:
        super().__init__(sentence)
        self.field = field


class DayNotSensible(CareRefused):
    """A day before this site could know of, or after anybody could see."""

    def __init__(self, *, field: str) -> None:
        super().__init__(_("Give a day from the year 2000 to the year 2100. Look at the year."))
        self.field = field


class MachineNotLent(CareRefused):
    """Nothing falls due for a machine that is retired."""

    def __init__(self, *, machine: Machine) -> None:
        super().__init__(_("%(machine)s is retired. Bring it back into use first.") % {"machine": machine.name})


class PlanEnded(CareRefused):
    """Nothing is due under this plan any more."""

    def __init__(self, *, plan: CarePlan) -> None:
        words = {"name": plan.name, "day": day_with_year(plan.ended_on) if plan.ended_on else ""}
        super().__init__(_("“%(name)s” was ended on %(day)s. Plan it anew if it is needed again.") % words)


class NotDoneYet(CareRefused):
    """The day on which it is said to have been done is still to come."""

    field = "done_on"

    def __init__(self, *, day: date) -> None:
        words = {"day": day_with_year(day)}
        super().__init__(_("%(day)s is still to come. Record it once it is done.") % words)


class DoneSince(CareRefused):
    """A later one is recorded: an older one would move the due day back."""

    field = "done_on"

    def __init__(self, *, day: date) -> None:
        words = {"day": day_with_year(day)}
        super().__init__(_("It is recorded as done on %(day)s, which is later. Give that day or a later one.") % words)


class DueTooSoon(CareRefused):
    """Due again on the day on which it was done, or before."""

    field = "next_due_on"

    def __init__(self, *, done_on: date) -> None:
        words = {"day": day_with_year(done_on)}
        super().__init__(_("It is due again after %(day)s, the day on which it was done.") % words)
