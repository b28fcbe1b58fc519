"""Checking probes: what one read in crushed ice and in boiling water."""

import uuid
from collections.abc import Collection, Iterable
from datetime import date, datetime
from decimal import Decimal
from typing import Final, TypedDict, Unpack

from django.utils.formats import number_format
from django.utils.translation import gettext as _

from kitshare.engine import deed
from kitshare.kits.models import Machine, Part
from kitshare.logbook import actions as logbook
from kitshare.people.models import HIGHEST_M, LOWEST_M, Member
from kitshare.rules.checklists import Severity
from kitshare.rules.probes import USELESS_OVER_C
from kitshare.rules.servicing import FIRST_DAY
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import eligibility
from kitshare.upkeep.care_refusals import CareRefused, DayNotSensible, NotDoneYet, NothingWritten, NotTheirs
from kitshare.upkeep.models import Fault
from kitshare.upkeep.probe_models import PRESSURE_HPA, ProbeCheck
from kitshare.upkeep.words import day_with_year

COLDEST_C: Final = Decimal(-40)
HOTTEST_C: Final = Decimal(140)
FINEST_C: Final = 0.1  # what a probe shows at best


class ProbeOff(CareRefused):
    """So far off that no correction can be trusted."""

    def __init__(self, *, field: str, off_c: float) -> None:
        words = {"off": number_format(f"{abs(off_c):.1f}")}
        sentence = _(
            "This probe is %(off)s degrees off: no correction makes its readings worth anything. Look at what was"
            " typed; if it is right, set the machine aside until the probe is mended or replaced."
        )
        super().__init__(sentence % words)
        self.field = field


class ProbeInUse(CareRefused):
    """A probe whose readings can be put right sets nothing aside."""

    def __init__(self) -> None:
        super().__init__(_("Readings of this probe can be put right: record the check instead."))


class CheckedLater(NotDoneYet):
    """The day of the check is still to come."""

    field = "checked_on"


class PlaceNotSensible(CareRefused):
    """An altitude or a pressure at which nobody boils water."""

    def __init__(self, *, field: str, least: int, most: int) -> None:
        super().__init__(_("Give a number from %(least)s to %(most)s.") % {"least": least, "most": most})
        self.field = field


class ProbeRead(TypedDict):
    """What a probe read, and where and when."""

    part: Part
    ice_reading_c: Decimal | None
    boiling_reading_c: Decimal | None
    altitude_m: int
    pressure_hpa: Decimal | None
    checked_on: date
    note: str


@deed
def check_probe(
    *, by: Member, at: datetime, today: date, form_key: uuid.UUID | None = None, **read: Unpack[ProbeRead]
) -> ProbeCheck:
    """Record what a probe read. From then on its readings are put right by it. A form sent twice is one check.

    Raises CareRefused, ProbeOff for a probe that is of no use.
    """
    check = _begun(read, by=by, at=at, form_key=form_key)
    checked_before = ProbeCheck.objects.filter(key=check.key).first()
    if checked_before is not None:
        return checked_before
    _refuse(check, today)
    _refuse_useless(check)
    check.save()
    part = check.part
    text = _("Checked %(part)s: %(readings)s %(note)s") % {
        "part": part.name,
        "readings": readings_in_words(check),
        "note": check.note,
    }
    about = [part, part.machine, part.machine.kit]
    logbook.write(deed="probe_checked", text=text.strip(), about=about, by=by, at=at)
    return check


@deed
def set_aside_by_probe(
    *, by: Member, at: datetime, today: date, form_key: uuid.UUID | None = None, **read: Unpack[ProbeRead]
) -> Fault:
    """Set a machine aside, since its probe is so far off that no correction can be trusted. It is no check to go by.

    A form sent twice is one fault. Raises CareRefused, ProbeInUse where the probe is of use yet.
    """
    check = _begun(read, by=by, at=at, form_key=form_key)
    _refuse(check, today)
    try:
        _refuse_useless(check)
    except ProbeOff:
        words = {"day": day_with_year(check.checked_on), "readings": readings_in_words(check), "note": check.note}
        note = _("No correction makes its readings worth anything. On %(day)s it read %(readings)s %(note)s") % words
        return upkeep.report_fault(
            machine=check.part.machine,
            part=check.part,
            note=note.strip(),
            severity=Severity.STOPS_USE,
            by=by,
            at=at,
            form_key=check.key,
        )
    raise ProbeInUse


def _begun(read: ProbeRead, *, by: Member, at: datetime, form_key: uuid.UUID | None) -> ProbeCheck:
    """The check as it would be kept, with its machine locked: two of one day stand in the order of their typing."""
    if not eligibility.mends(by):
        raise NotTheirs
    said = f"{by.pk} {read['part'].pk} {' '.join(str(value) for name, value in read.items() if name != 'part')}"
    Machine.objects.select_for_update(of=("self",), no_key=True).get(pk=read["part"].machine_id)
    key = uuid.uuid5(form_key, said) if form_key else uuid.uuid4()
    return ProbeCheck(key=key, by=by, at=at, **(read | {"note": read["note"].strip()}))


def likely_probes(parts: Iterable[Part], checked: Collection[int]) -> list[Part]:
    """Which of some parts are probes: those once checked and those called so; all of them where none is."""
    parts = list(parts)
    called = (_("probe"), _("thermometer"))
    found = [part for part in parts if part.pk in checked or any(word in part.name.casefold() for word in called)]
    return found or parts


def off_by(check: ProbeCheck) -> float:
    """How far off a probe reads where it is worst, in degrees: -3.0 where it reads 3 degrees low."""
    return max(check.as_rule(on=check.checked_on).off_c.values(), key=abs)


def off_in_words(check: ProbeCheck) -> str:
    """How a probe reads: "reads 3.0 °C low"."""
    off = off_by(check)
    if abs(off) < FINEST_C:
        return _("reads true")
    amount = number_format(f"{abs(off):.1f}")
    text = _("reads %(amount)s °C low") if off < 0 else _("reads %(amount)s °C high")
    return text % {"amount": amount}


def readings_in_words(check: ProbeCheck) -> str:
    """What was read, and against what: "-3.0 °C in crushed ice, 96.8 °C in water that boils at 99.8 °C." """
    found = []
    if check.ice_reading_c is not None:
        found.append(_("%(read)s °C in crushed ice") % {"read": number_format(check.ice_reading_c)})
    if check.boiling_reading_c is not None:
        true = check.as_rule(on=check.checked_on).boiling_c
        words = {"read": number_format(check.boiling_reading_c), "true": number_format(f"{true:.1f}")}
        found.append(_("%(read)s °C in water that boils at %(true)s °C") % words)
    return ", ".join(found) + "."


def _refuse(check: ProbeCheck, today: date) -> None:
    """Raise CareRefused where the check makes no sense."""
    if check.ice_reading_c is None and check.boiling_reading_c is None:
        raise NothingWritten(field="ice_reading_c", sentence=_("Give what it read in ice, in boiling water, or both."))
    if check.checked_on > today:
        raise CheckedLater(day=check.checked_on)
    if check.checked_on < FIRST_DAY:
        raise DayNotSensible(field="checked_on")
    if not LOWEST_M <= check.altitude_m <= HIGHEST_M:
        raise PlaceNotSensible(field="altitude_m", least=LOWEST_M, most=HIGHEST_M)
    low, high = PRESSURE_HPA
    if check.pressure_hpa is not None and not low <= check.pressure_hpa <= high:
        raise PlaceNotSensible(field="pressure_hpa", least=low, most=high)
    for field in ("ice_reading_c", "boiling_reading_c"):
        reading = getattr(check, field)
        if reading is not None and not (reading.is_finite() and COLDEST_C <= reading <= HOTTEST_C):
            raise PlaceNotSensible(field=field, least=int(COLDEST_C), most=int(HOTTEST_C))


def _refuse_useless(check: ProbeCheck) -> None:
    for field, off_c in check.as_rule(on=check.checked_on).off_c.items():
        if abs(off_c) > USELESS_OVER_C:
            raise ProbeOff(field=field, off_c=off_c)
