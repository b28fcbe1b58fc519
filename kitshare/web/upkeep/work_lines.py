"""One line of the workbench: a fault, or a service or test that is due, in the same words and places."""

from dataclasses import dataclass
from datetime import date
from typing import Final

from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings.models import Booking
from kitshare.kits.models import Kit
from kitshare.rules.checklists import Severity
from kitshare.upkeep.actions import SEVERITY_WORDS
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.upkeep.words import where
from kitshare.web.templatetags.kitshare import moment
from kitshare.web.upkeep import facts
from kitshare.web.upkeep.care_facts import CareLine

STAGE_TONES: Final = {FaultStage.MENDED: "plum", FaultStage.RELEASED: "done", FaultStage.GIVEN_UP: "quiet"}


@dataclass(frozen=True, slots=True, kw_only=True)
class Word:
    """A word with its tone."""

    text: str
    tone: str


@dataclass(frozen=True, slots=True, kw_only=True)
class WorkLine:
    """What a row says. `why` is why it stands where it does; `hands` who does it, or may."""

    address: str
    kit: Kit
    title: str
    words: list[Word]
    note: str
    why: str
    booking: Booking | None
    hands: str
    since: str
    since_who: str = ""
    waits: str = ""


def line_of_fault(
    fault: Fault,
    today: date,
    *,
    why: str = "",
    booking: Booking | None = None,
    joined: int = 0,
    worst: Severity | None = None,
) -> WorkLine:
    """A fault, and how many are joined to it; `worst` is how bad the worst of these is."""
    words = [Word(text=str(fault.get_severity_display()), tone=facts.tone_of(fault))]
    if joined:
        words.append(Word(text=_("and %(count)d joined to it") % {"count": joined}, tone="plum"))
    if worst is not None and worst != fault.severity:
        text = _("joined to it: %(severity)s") % {"severity": SEVERITY_WORDS[worst]}
        words.append(Word(text=text, tone=facts.TONES[worst]))
    if fault.stage in STAGE_TONES:
        words.append(Word(text=str(fault.get_stage_display()), tone=STAGE_TONES[FaultStage(fault.stage)]))
    if fault.waits_for:
        words.append(Word(text=_("waits for a part"), tone="plum"))
    return WorkLine(
        address=reverse("upkeep:fault", args=[fault.pk]),
        kit=fault.machine.kit,
        title=where(fault),
        words=words,
        note=fault.note,
        why=why,
        booking=booking,
        hands=_hands(fault),
        since=moment(fault.reported_at),
        since_who=fault.reported_by.name,
        waits=facts.waiting_in_words(fault, today) if fault.waits_for else "",
    )


def line_of_plan(care: CareLine, *, why: str, booking: Booking | None) -> WorkLine:
    plan = care.plan
    return WorkLine(
        address=reverse("upkeep:plan", args=[plan.pk]),
        kit=plan.machine.kit,
        title=f"{plan.machine.name}: {plan.name}",
        words=[Word(text=care.word, tone=care.tone), Word(text=str(plan.get_kind_display()), tone="quiet")],
        note=care.interval[:1].upper() + care.interval[1:],
        why=why,
        booking=booking,
        hands=plan.who,
        since=care.due,
    )


def _hands(fault: Fault) -> str:
    if fault.given_up_by is not None and not fault.is_open:
        return _("Given up by %(who)s") % {"who": fault.given_up_by.name}
    if fault.released_by is not None and fault.mended_by is not None:
        words = {"mended": fault.mended_by.name, "released": fault.released_by.name}
        return _("Mended by %(mended)s, released by %(released)s") % words
    return fault.taken_by.name if fault.taken_by else ""
