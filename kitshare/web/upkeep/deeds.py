"""The deeds on a fault's page: for each its form, its action, and what is said once it is done."""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import datetime
from functools import partial
from typing import Any, Final

from django.utils import timezone
from django.utils.translation import gettext_lazy as _

from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep import benching, joining
from kitshare.upkeep.models import Fault
from kitshare.web.upkeep.forms import (
    DeedForm,
    GiveUpForm,
    GradeForm,
    HandOnForm,
    JoinForm,
    NoteForm,
    RetestForm,
    SetAsideForm,
    WaitForm,
)
from kitshare.web.upkeep.mend_form import MendForm


@dataclass(frozen=True, slots=True, kw_only=True)
class Deed:
    """`shown_as` is the name under which the form stands on the page; two buttons may share one form."""

    shown_as: str
    form: type[DeedForm]
    action: Callable[..., Fault]
    done: Any


def _grade(*, severity: str, **facts: Any) -> Fault:
    return upkeep.regrade_fault(severity=Severity(severity), **facts)


def _wait(*, at: datetime, **facts: Any) -> Fault:
    return benching.wait_for_part(at=at, today=timezone.localdate(at), **facts)


DEEDS: Final = {
    "take": Deed(shown_as="take", form=DeedForm, action=upkeep.take_fault, done=_("Taken on. It is in your hands.")),
    "hand_back": Deed(
        shown_as="hand_back", form=DeedForm, action=upkeep.hand_back_fault, done=_("Handed back to the bench.")
    ),
    "hand_on": Deed(
        shown_as="hand_on", form=HandOnForm, action=benching.hand_on_fault, done=_("Handed on, and they are told.")
    ),
    "wait": Deed(shown_as="wait", form=WaitForm, action=_wait, done=_("It waits for a part: that is written down.")),
    "go_on": Deed(shown_as="go_on", form=DeedForm, action=benching.part_came, done=_("It waits no more.")),
    "join": Deed(
        shown_as="join", form=JoinForm, action=joining.join_fault, done=_("Joined: it follows the other from now on.")
    ),
    "part": Deed(shown_as="part", form=DeedForm, action=joining.part_fault, done=_("Parted: it stands for itself.")),
    "give_up": Deed(
        shown_as="give_up",
        form=GiveUpForm,
        action=benching.give_up_fault,
        done=_("Given up. Whoever reported it is told."),
    ),
    "note": Deed(shown_as="note", form=NoteForm, action=upkeep.note_fault, done=_("The note is written down.")),
    "mend": Deed(
        shown_as="mend",
        form=MendForm,
        action=upkeep.mend_fault,
        done=_("Mended is written down. Retest it next: until then it is not released."),
    ),
    "release": Deed(
        shown_as="retest",
        form=RetestForm,
        action=upkeep.release_fault,
        done=_("Released. Whoever reported it is told."),
    ),
    "fail": Deed(
        shown_as="retest",
        form=RetestForm,
        action=upkeep.fail_retest,
        done=_("Not right yet is written down. It is on the bench again."),
    ),
    "set_aside": Deed(
        shown_as="set_aside",
        form=SetAsideForm,
        action=partial(_grade, severity=Severity.STOPS_USE),
        done=_("Set aside. Those who look after the machines and the calendar are told."),
    ),
    "grade": Deed(shown_as="grade", form=GradeForm, action=_grade, done=_("Judged anew.")),
}
