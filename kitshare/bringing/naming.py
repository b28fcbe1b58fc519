"""Which village, borrower or machine is meant: by the name as written, else whatever the case, accents and apostrophes.

The same tables say how a copy writes a thing, so that what it writes is found again.
"""

import difflib
import re
import unicodedata
from collections import defaultdict
from collections.abc import Iterable, Sequence
from typing import Final, Generic, TypeVar

from django.db import models
from django.utils.translation import gettext as _

from kitshare.bookings.calendars import one_line
from kitshare.bookings.models import Booking
from kitshare.bringing.cells import NotUnderstood
from kitshare.kits.models import Kit, Machine
from kitshare.people.models import Member, Village

Thing = TypeVar("Thing", bound=models.Model)

APOSTROPHES: Final = re.compile("['’‘ʼʻ`´\u2032]")
DASHES: Final = re.compile("[-\u2010-\u2015\u2212_/]")
NEAR: Final = 3


def plain_name(name: str) -> str:
    """The name without case, accents, apostrophes and dashes: Tŷ-Ferrow and ty ferrow are one."""
    text = unicodedata.normalize("NFKD", one_line(name).casefold())
    text = "".join(sign for sign in text if not unicodedata.combining(sign))
    return " ".join(DASHES.sub(" ", APOSTROPHES.sub("", text)).split()).casefold()


class Register(Generic[Thing]):
    """Things by the names that they go by."""

    def __init__(self, pairs: Iterable[tuple[str, Thing]]) -> None:
        self._exact: defaultdict[str, dict[int, Thing]] = defaultdict(dict)
        self._plain: defaultdict[str, dict[int, Thing]] = defaultdict(dict)
        self._written: dict[str, str] = {}
        for name, thing in pairs:
            self._exact[one_line(name)][thing.pk] = thing
            self._plain[plain_name(name)][thing.pk] = thing
            self._written.setdefault(plain_name(name), one_line(name))

    def named(self, name: str) -> list[Thing]:
        """Whatever goes by this name: as written, else by its plain form."""
        found = self._exact.get(one_line(name)) or (self._plain.get(plain_name(name)) if plain_name(name) else None)
        return list((found or {}).values())

    def is_only(self, name: str, thing: Thing) -> bool:
        return self.named(name) == [thing]

    def near(self, name: str) -> list[str]:
        """Names that look like this one."""
        found = difflib.get_close_matches(plain_name(name), self._written, n=NEAR, cutoff=0.6)
        return [self._written[plain] for plain in found]

    def within(self, text: str) -> list[Thing]:
        """Things whose names stand in a text as whole words, and not only as a part of a longer name."""
        words = f" {_bare(plain_name(text))} "
        found: dict[int, Thing] = {}
        for plain in sorted(self._plain, key=len, reverse=True):
            bare = _bare(plain)
            if bare and f" {bare} " in words:
                found |= self._plain[plain]
                words = words.replace(f" {bare} ", " | ")
        return list(found.values())


class Names:
    """Everybody and everything that a row can name, those that left and were retired too: files tell of the past."""

    def __init__(self) -> None:
        self.villages = list(Village.objects.prefetch_related("borrowers").order_by("pk"))
        self.members = list(Member.objects.order_by("pk"))
        self.machines = list(Machine.objects.select_related("kit").order_by("kit_id", "position", "pk"))
        self.of_village = {village.pk: list(village.borrowers.all()) for village in self.villages}
        self.signing_now = {
            key: [member for member in members if member.is_active] for key, members in self.of_village.items()
        }
        self._villages = Register((village.name, village) for village in self.villages)
        self._signing = {pk: Register(_called(members)) for pk, members in self.of_village.items()}
        self._members = Register(_called(self.members))
        self._machines = Register(
            (name, machine) for machine in self.machines for name in (machine.name, _with_kit(machine))
        )
        kits: dict[int, Kit] = {machine.kit_id: machine.kit for machine in self.machines}
        self._kits = Register((kit.name, kit) for kit in kits.values())
        names = [(kit.name, kit) for kit in kits.values()] + [(machine.name, machine) for machine in self.machines]
        self._lent: Register[Kit | Machine] = Register(names)

    def village(self, name: str) -> Village:
        return _one(self._villages, name, _("village"))

    def borrower(self, name: str, village: Village) -> Member:
        """By name, e-mail address or telephone; first among those who sign for the village."""
        signing = self._signing[village.pk]
        if len(signing.named(name)) == 1:
            return signing.named(name)[0]
        return _one(self._members, name, _("member"))

    def machines_named(self, name: str) -> list[Machine]:
        """A machine, or all machines in use of a kit."""
        machines = self._machines.named(name)
        kits = self._kits.named(name)
        if len(machines) == 1:
            return machines
        if not machines and len(kits) == 1:
            return self._of_kit(kits[0])
        if machines:
            which = ", ".join(_with_kit(machine) for machine in machines)
            raise NotUnderstood(_("“%(name)s” may be: %(which)s.") % {"name": name, "which": which})
        raise _unknown(name, _("machine or kit"), self._lent.near(name))

    def village_in(self, text: str) -> Village:
        """The one village that a text names."""
        found = self._villages.within(text)
        if len(found) == 1:
            return found[0]
        words = {"text": text[:80], "which": ", ".join(village.name for village in found)}
        if found:
            raise NotUnderstood(_("“%(text)s” names several villages: %(which)s.") % words)
        raise NotUnderstood(_("“%(text)s” names no village of ours.") % words)

    def machines_in(self, text: str) -> list[Machine]:
        """The machines that a text names; where it names none, those of the kits that it names."""
        found = self._machines.within(text)
        if found:
            return found
        kits = self._kits.within(text)
        if not kits:
            raise NotUnderstood(_("“%(text)s” names no machine or kit of ours.") % {"text": text[:80]})
        return [machine for kit in kits for machine in self._of_kit(kit)]

    def of_machine(self, machine: Machine) -> str:
        """How a copy writes the machine: with its kit where the name alone is not enough."""
        return machine.name if self._machines.is_only(machine.name, machine) else _with_kit(machine)

    def of_borrower(self, booking: Booking) -> str:
        """How a copy writes who signs: by address or telephone where two have the name."""
        member = booking.borrower
        for name in (member.name, member.email, member.telephone):
            if name and self._is_clear(name, member, self._signing[booking.village_id]):
                return name
        return member.name

    def _is_clear(self, name: str, member: Member, signing: Register[Member]) -> bool:
        return signing.is_only(name, member) or (not signing.named(name) and self._members.is_only(name, member))

    def _of_kit(self, kit: Kit) -> list[Machine]:
        in_use = [one for one in self.machines if one.kit_id == kit.pk and one.retired_on is None]
        return in_use or [one for one in self.machines if one.kit_id == kit.pk]


def _bare(text: str) -> str:
    """Words alone, with a space between them."""
    return " ".join(re.sub(r"\W+", " ", text).split())


def _called(members: Iterable[Member]) -> list[tuple[str, Member]]:
    return [(name, member) for member in members for name in (member.name, member.email, member.telephone) if name]


def _with_kit(machine: Machine) -> str:
    return f"{machine.kit.name}: {machine.name}"


def _one(register: Register[Thing], name: str, kind: str) -> Thing:
    found = register.named(name)
    if len(found) == 1:
        return found[0]
    if found:
        raise NotUnderstood(
            _("“%(name)s” may be one of several: write the e-mail address or telephone.") % {"name": name}
        )
    raise _unknown(name, kind, register.near(name))


def _unknown(name: str, kind: str, near: Sequence[str]) -> NotUnderstood:
    words = {"name": name[:80], "kind": kind, "near": ", ".join(near)}
    if near:
        return NotUnderstood(_("“%(name)s” is no %(kind)s of ours. Near: %(near)s.") % words)
    return NotUnderstood(_("“%(name)s” is no %(kind)s of ours.") % words)
