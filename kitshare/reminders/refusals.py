"""Why a row of the policy cannot be so. The message is fit to show, and `field` names what to correct."""

from django.utils.translation import gettext as _

from kitshare.reminders.models import ReminderRow


class PolicyRefused(Exception):
    """Why a row is not changed."""

    field = "days"


class NotForThese(PolicyRefused):
    """A kind does not go to these people."""

    field = "addressed"

    def __init__(self) -> None:
        super().__init__(_("This reminder does not go to them. Choose from the list."))


class TooFarFromItsDay(PolicyRefused):
    """Outside the days in which a kind makes sense."""

    def __init__(self, least: int, most: int) -> None:
        self.least, self.most = least, most
        super().__init__(self._sentence())

    def _sentence(self) -> str:
        if self.most <= 0:
            words = {"first": -self.least, "last": -self.most}
            return _("This one goes from %(first)d to %(last)d days before.") % words
        if self.least >= 0:
            words = {"first": self.least, "last": self.most}
            return _("This one goes from %(first)d to %(last)d days after.") % words
        words = {"first": -self.least, "last": self.most}
        return _("This one goes from %(first)d days before to %(last)d days after.") % words


class HoursNotSensible(PolicyRefused):
    """Too many hours before a moment, or none."""

    field = "hours"

    def __init__(self, most: int) -> None:
        super().__init__(_("Give 1 to %(most)d hours.") % {"most": most})


class TimeMissing(PolicyRefused):
    """A row that goes by days without a time of day."""

    field = "at"

    def __init__(self) -> None:
        super().__init__(_("Say at what time, such as 07:00."))


class OneIsEnough(PolicyRefused):
    """A kind of which there is one row."""

    field = "kind"

    def __init__(self) -> None:
        super().__init__(_("There is one row of this reminder; change that one."))


class RowTwice(PolicyRefused):
    """Another row tells the same people of the same thing on the same day."""

    def __init__(self, row: ReminderRow) -> None:
        self.field = "hours" if row.hours is not None else "days"
        super().__init__(_("There is a row for that day and these people already, on or off. Change that one."))


class StaysOn(PolicyRefused):
    """A warning that is a matter of safety."""

    field = "is_on"

    def __init__(self) -> None:
        super().__init__(_("This is a matter of safety, and is not switched off. When it goes may be changed."))
