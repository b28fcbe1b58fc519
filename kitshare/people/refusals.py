"""Changes to the scheme, a member or a village that cannot be, each with a sentence to show."""

from django.utils.translation import gettext as _

from kitshare.people.models import Member


class PeopleRefused(Exception):
    """A change to the scheme, a member or a village that cannot be. `field` names what to correct, if one thing is."""

    field: str | None = None


class SchemeExists(PeopleRefused):
    """Somebody else started the scheme first."""

    def __init__(self) -> None:
        super().__init__(_("The scheme was started already, perhaps a moment ago by somebody else. Sign in instead."))


class AddressTaken(PeopleRefused):
    """Another member has this e-mail address, in whatever case."""

    field = "email"

    def __init__(self, address: str) -> None:
        super().__init__(_("Another member has the address %(address)s already.") % {"address": address})
        self.address = address


class LastCoordinator(PeopleRefused):
    """Nobody would be left who can sign in and run the scheme."""

    field = "coordinates"

    def __init__(self, member: Member) -> None:
        sentence = _(
            "%(name)s is the only coordinator who can sign in. Make somebody else a coordinator first:"
            " without one nobody could agree a booking or let a member in."
        )
        super().__init__(sentence % {"name": member.name})
        self.member = member


class SignsWithoutBorrowing(PeopleRefused):
    """Somebody signs for a village without being a borrower."""

    field = "borrows"

    def __init__(self, name: str) -> None:
        super().__init__(
            _("Who signs for a village is a borrower. Tick “borrower” for %(name)s, or take the villages away.")
            % {"name": name}
        )


class VillageNameTaken(PeopleRefused):
    """Another village has this name."""

    field = "name"

    def __init__(self, name: str) -> None:
        super().__init__(_("There is a village called %(name)s already.") % {"name": name})
        self.name = name
