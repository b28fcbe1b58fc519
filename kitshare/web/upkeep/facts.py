"""What pages show of faults, worked out from the faults, the bookings that need the machine, and the checks."""

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Final

from django.db.models import F, Q
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from kitshare.bookings.models import Booking, Stage
from kitshare.bookings.words import day_in_words, test_first_in_words
from kitshare.checks.models import CheckLine
from kitshare.kits.models import Machine, MachineKind, Part
from kitshare.outbox.models import Message
from kitshare.people.models import Member
from kitshare.rules.checklists import PartKind, Severity
from kitshare.upkeep import eligibility, fitness
from kitshare.upkeep.care_models import CarePlan
from kitshare.upkeep.models import Fault, FaultNote, FaultStage
from kitshare.upkeep.words import where
from kitshare.web.money import money_in_words
from kitshare.web.templatetags.kitshare import moment

TONES: Final = {Severity.STOPS_USE: "stop", Severity.USE_WITH_CARE: "care", Severity.LOOKS_ONLY: "quiet"}

# Common practice at a pressing yard, no source. What a scheme knows of its own machine stands in its own caution.
CAUTIONS: Final = {
    MachineKind.MILL: gettext_lazy(
        "Blades: unplug the mill and wait until it stands still before you reach in. Do not run it without its guards."
    ),
    MachineKind.PRESS: gettext_lazy("Take the pressure off before you reach in, and keep hands out of the stack."),
    MachineKind.PASTEURISER: gettext_lazy(
        "Hot water: unplug the pasteuriser and let it cool before you empty it or reach in."
    ),
}
ELECTRICITY: Final = gettext_lazy(
    "If it runs on electricity, unplug it before you open it. Electrical repair and test is for a competent person"
    " under local rules."
)
GUARD: Final = gettext_lazy("Nobody lifts, moves or starts the machine while a guard is off.")
LIFTING: Final = gettext_lazy("Lift with two, or use the trolley.")


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """When a machine goes out next and to whom, and who has it now."""

    next: Booking | None = None
    out: Booking | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class FaultLine:
    """One open fault as other pages show it."""

    pk: int
    where: str
    note: str
    severity: str
    tone: str
    stage: str


def tone_of(fault: Fault) -> str:
    """The colour beside the word for how bad it is; once released, it is loud no longer."""
    return TONES[Severity(fault.severity)] if fault.is_open else "quiet"


def open_faults_of(machines: Iterable[Machine]) -> list[FaultLine]:
    """The open faults of some machines, worst first, for `upkeep/faults_of.html`. One query."""
    faults = Fault.objects.concerning(machines).select_related("machine", "part").worst_first()
    return [
        FaultLine(
            pk=fault.pk,
            where=where(fault),
            note=fault.note,
            severity=str(fault.get_severity_display()),
            tone=tone_of(fault),
            stage=str(fault.get_stage_display()),
        )
        for fault in faults
    ]


def needs_of(machines: Iterable[int], today: date) -> dict[int, Need]:
    """For each machine key its next booking and the one it is out with. Two queries, however many machines."""
    keys = set(machines)
    ahead, out = Booking.objects.ahead().filter(back_on__gt=today), Booking.objects.filter(stage=Stage.OUT)
    coming, gone = _first_of_each(ahead, keys), _first_of_each(out, keys)
    return {key: Need(next=coming.get(key), out=gone.get(key)) for key in keys}


def _first_of_each(bookings: "Iterable[Booking]", keys: set[int]) -> dict[int, Booking]:
    """The booking that goes out first, for each of these machines."""
    found: dict[int, Booking] = {}
    chosen = bookings.filter(machines__in=keys).annotate(of_machine=F("machines"))  # type: ignore[attr-defined]
    for booking in chosen.select_related("village").order_by("out_on", "pk"):
        found.setdefault(booking.of_machine, booking)
    return found


def need_in_words(fault: Fault, need: Need, today: date) -> str:
    """Why a fault stands where it does on the workbench, in a sentence."""
    said = need_of_machine(need, today)
    return f"{said} {_('It may not go out like this.')}" if fault.stops_use and need.next is not None else said


def need_of_machine(need: Need, today: date) -> str:
    """Who has a machine, and who needs it next, in a sentence or two."""
    sentences = []
    if need.out is not None:
        words = {"village": need.out.village.name, "day": day_in_words(need.out.back_on)}
        sentences.append(_("Out with %(village)s, due back by %(day)s.") % words)
    if need.next is None:
        sentences.append(_("No booking waits for it."))
    else:
        sentences.append(_when_in_words(need.next, (need.next.out_on - today).days))
    return " ".join(sentences)


def _when_in_words(booking: Booking, days: int) -> str:
    words = {"village": booking.village.name, "day": day_in_words(booking.out_on), "days": abs(days)}
    if days < 0:
        sentence = ngettext(
            "Was to go out %(days)d day ago, to %(village)s (%(day)s).",
            "Was to go out %(days)d days ago, to %(village)s (%(day)s).",
            -days,
        )
        return sentence % words
    if days == 0:
        return _("Goes out today, to %(village)s (%(day)s).") % words
    if days == 1:
        return _("Goes out again tomorrow, to %(village)s (%(day)s).") % words
    return _("Goes out again in %(days)d days, to %(village)s (%(day)s).") % words


def next_step(fault: Fault, today: date) -> str:
    """What happens next with a fault, in a sentence."""
    if fault.stage == FaultStage.RELEASED:
        return _("This fault is over. If it is back, report it anew.")
    if fault.stage == FaultStage.GIVEN_UP:
        if fault.is_open:
            return _("It was given up, and what it stops is in use again: it stops it as before. Take it on.")
        return _("This fault was given up. If something is wrong still, report it anew.")
    if fault.waits_for:
        return waiting_in_words(fault, today)
    if fault.stage == FaultStage.MENDED:
        return _("Mended, and not retested yet. Somebody tries it out, then releases it.")
    if fault.stage == FaultStage.TAKEN and fault.taken_by is not None:
        return _("%(who)s has taken it on. Once it is mended, it is retested and released.") % {
            "who": fault.taken_by.name
        }
    return _("Nobody has taken it on yet.")


def became_in_words(fault: Fault, today: date) -> str:
    """What became of a fault so far, in a sentence, for whoever reported it."""
    if fault.stage == FaultStage.RELEASED and fault.released_by is not None:
        words = {"who": fault.released_by.name, "when": moment(fault.released_at), "note": fault.retest_note}
        return _("Mended, and released after a retest by %(who)s, %(when)s: %(note)s") % words
    if fault.stage == FaultStage.GIVEN_UP and fault.given_up_by is not None:
        words = {"who": fault.given_up_by.name, "when": moment(fault.given_up_at), "note": fault.given_up_reason}
        return _("Given up by %(who)s, %(when)s: %(note)s") % words
    return next_step(fault, today)


def waiting_in_words(fault: Fault, today: date) -> str:
    """What a fault waits for and until when; whose day has passed, somebody asks again."""
    assert fault.expected_on is not None  # noqa: S101 - a constraint holds it
    words = {"what": fault.waits_for.rstrip("."), "day": day_in_words(fault.expected_on)}
    if fault.expected_on < today:
        return _("Waits for: %(what)s. It was expected on %(day)s: ask where it is.") % words
    return _("Waits for: %(what)s, expected on %(day)s.") % words


def retired_in_words(fault: Fault) -> str:
    """For a fault of something that is retired, what that means for it; empty for any other."""
    machine, part = fault.machine, fault.part
    words = {"machine": machine.name, "kit": machine.kit.name, "part": part.name if part else ""}
    if machine.retired_on:
        return (
            _("%(machine)s is retired, so nobody takes it out. This fault can be given up, or mended all the same.")
            % words
        )
    if machine.kit.retired_on:
        return (
            _("%(kit)s is retired, so nobody takes it out. This fault can be given up, or mended all the same.") % words
        )
    if part is None or not part.retired_on:
        return ""
    if fault.stops_something_in_use:
        return (
            _("%(part)s is retired, and %(machine)s cannot do without such a part: fit another, mend and retest.")
            % words
        )
    return _("%(part)s is retired. This fault can be given up, or mended all the same.") % words


def spent_on(notes: Iterable[FaultNote], currency: str) -> dict[str, str]:
    """The time and the money that the notes on a fault add up to, in words; empty where nobody said."""
    notes = list(notes)
    minutes = sum(note.minutes or 0 for note in notes)
    money = sum((note.money or Decimal(0) for note in notes), Decimal(0))
    return {
        "time": time_in_words(minutes) if minutes else "",
        "money": money_in_words(money, currency) if money else "",
    }


def time_in_words(minutes: int) -> str:
    """Such as "45 min" or "1 h 35 min"."""
    hours, rest = divmod(minutes, 60)
    return f"{hours} h {rest} min" if hours and rest else f"{hours} h" if hours else f"{rest} min"


def cautions_for(machine: Machine, part: Part | None) -> list[str]:
    """What can hurt somebody who works on this machine, a sentence each."""
    kind = MachineKind(machine.kind)
    chosen = [CAUTIONS[kind]] if kind in CAUTIONS else []
    if kind != MachineKind.PRESS:
        chosen.append(ELECTRICITY)
    if part is not None and part.kind == PartKind.GUARD:
        chosen.append(GUARD)
    own = [machine.caution, part.caution if part else ""]
    return [*(text for text in own if text), *(str(sentence) for sentence in [*chosen, LIFTING])]


def seen_at_checks(fault: Fault) -> list[CheckLine]:
    """How the part was seen at both ends of the booking at which the fault was found: going out, coming back."""
    found = Q(check_of__booking__handover_checks__lines__fault=fault, part=fault.part)
    lines = CheckLine.objects.filter(found).select_related("check_of__booking__village", "photo", "part").distinct()
    return list(lines.order_by("check_of__done_at", "pk"))


def deeds_open_to(member: Member, fault: Fault) -> dict[str, bool]:
    """What this member may do about a fault now, by the same checks that guard the deeds."""
    regrade = eligibility.regrade_can(fault=fault, by=member)
    stays = fault.stops_use and fault.part is not None and fault.part.stops_a_handover
    retest = eligibility.retest_can(fault=fault, by=member)
    return {
        "take": eligibility.take_can(fault=fault, by=member),
        "hand_back": eligibility.hand_back_can(fault=fault, by=member),
        "hand_on": eligibility.hand_on_can(fault=fault, by=member),
        "wait": eligibility.wait_can(fault=fault, by=member),
        "go_on": eligibility.go_on_can(fault=fault, by=member),
        "join": eligibility.join_can(fault=fault, by=member),
        "part": eligibility.part_can(fault=fault, by=member),
        "give_up": eligibility.give_up_can(fault=fault, by=member),
        "note": eligibility.note_can(fault=fault, by=member),
        "mend": eligibility.mend_can(fault=fault, by=member) and not retest,
        "retest": retest,
        "set_aside": regrade and not fault.stops_use,
        "grade": regrade and not stays,
        "stays": regrade and stays,
    }


def tests_before(booking: Booking, today: date) -> list[tuple[CarePlan, str]]:
    """The tests that will be overdue when a booking goes out, with a sentence each. Its machines have `tests`."""
    found = [plan for machine in booking.machines.all() for plan in machine.tests]  # type: ignore[attr-defined]
    overdue = [plan for plan in found if fitness.will_be_overdue(plan, out_on=booking.out_on, today=today)]
    return [(plan, test_first_in_words(plan, out_on=booking.out_on, today=today)) for plan in overdue]


def warnings_about(bookings: Iterable[Booking]) -> dict[int, list[Message]]:
    """For each booking at risk the messages that said so. One query for a page of bookings."""
    keys = [booking.pk for booking in bookings]
    about = Q(pk__in=[])
    for key in keys:
        about |= Q(key__startswith=f"booking-at-risk:{key}:")
    found: dict[int, list[Message]] = {key: [] for key in keys}
    for message in Message.objects.filter(about).order_by("queued_at", "pk"):
        found[int(message.key.split(":")[1])].append(message)
    return found
