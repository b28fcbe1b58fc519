"""What people are told when a fault changes, queued in the same transaction as the change. Nobody is told what they
did themselves."""

from collections.abc import Iterable, Sequence
from datetime import datetime

from django.conf import settings
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import in_each_language
from kitshare.people.models import Member, Scheme
from kitshare.upkeep import fitness
from kitshare.upkeep.models import Fault
from kitshare.upkeep.words import where


@in_each_language
def reported(*, fault: Fault, at: datetime) -> None:
    """Tell every maintenance volunteer; and the coordinators too, when the machine is set aside by it."""
    to = [*Member.objects.maintaining(), *(Member.objects.coordinating() if fault.stops_use else [])]
    subject = _("Fault: %(where)s (%(severity)s)") % _words(fault)
    first = _("%(who)s reported a fault of %(where)s: %(note)s") % (_words(fault) | {"who": fault.reported_by.name})
    _tell("reported", subject, [first, _what_it_means(fault)], fault=fault, to=to, by=fault.reported_by, at=at)


@in_each_language
def set_aside(*, fault: Fault, reason: str, by: Member, at: datetime) -> None:
    """Tell the same people that a fault turned out to be worse."""
    to = [*Member.objects.maintaining(), *Member.objects.coordinating()]
    subject = _("Set aside: %(where)s") % _words(fault)
    first = _("%(who)s graded the fault of %(where)s as worse. %(reason)s") % (
        _words(fault) | {"who": by.name, "reason": reason}
    )
    event = f"set-aside-{fault.revision}"  # a fault may be set aside, judged milder, and set aside again
    _tell(event, subject, [first, _what_it_means(fault)], fault=fault, to=to, by=by, at=at)


@in_each_language
def released(*, fault: Fault, followers: Sequence[Fault], by: Member, at: datetime) -> None:
    """Tell whoever reported it; and the coordinators, when a machine had been set aside by it.

    Of the faults that were joined to it, those who reported one hear too: each member once.
    """
    stopped = fault.stops_use or any(follower.stops_use for follower in followers)
    to = [fault.reported_by, *(Member.objects.coordinating() if stopped else [])]
    told = {member.pk for member in to}
    _released(fault, to, by=by, at=at)
    for follower in followers:
        if follower.reported_by_id not in told:
            told.add(follower.reported_by_id)
            _released(follower, [follower.reported_by], by=by, at=at)


def _released(fault: Fault, to: Iterable[Member], *, by: Member, at: datetime) -> None:
    subject = _("Released: %(where)s") % _words(fault)
    first = _("%(who)s retested and released the fault of %(where)s: %(note)s") % (_words(fault) | {"who": by.name})
    retest = _("How it was retested: %(retest)s") % {"retest": fault.retest_note}
    _tell("released", subject, [first, retest, _what_stops_it_still(fault, at)], fault=fault, to=to, by=by, at=at)


@in_each_language
def handed_on(*, fault: Fault, to: Member, text: str, by: Member, at: datetime) -> None:
    """Tell whoever has it in hand now."""
    subject = _("In your hands: %(where)s") % _words(fault)
    first = _("%(who)s handed the fault of %(where)s on to you: %(note)s") % (_words(fault) | {"who": by.name})
    event = f"handed-on-{fault.revision}"  # it may go from hand to hand and back
    _tell(event, subject, [first, *([text] if text else [])], fault=fault, to=[to], by=by, at=at)


@in_each_language
def given_up(*, fault: Fault, followers: Sequence[Fault], by: Member, at: datetime) -> None:
    """Tell whoever reported it or one joined to it, and the coordinators, that it is not mended and will not be."""
    to = [fault.reported_by, *(follower.reported_by for follower in followers), *Member.objects.coordinating()]
    subject = _("Given up: %(where)s") % _words(fault)
    first = _("%(who)s gave up the fault of %(where)s: %(note)s") % (_words(fault) | {"who": by.name})
    why = _("Why: %(reason)s") % {"reason": fault.given_up_reason}
    _tell(f"given-up-{fault.revision}", subject, [first, why], fault=fault, to=to, by=by, at=at)


def _what_stops_it_still(fault: Fault, at: datetime) -> str:
    scheme = Scheme.objects.current()
    others = fitness.stops([fault.machine], on=at.astimezone(scheme.zone if scheme else at.tzinfo).date())
    words = {"machine": fault.machine.name, "tests": " ".join(reason.why for reason in others if reason.plan)}
    if any(reason.fault for reason in others):
        return _("Another fault still stops the use of %(machine)s.") % words
    if others:
        return _("No fault stops %(machine)s now, but it is still not handed over. %(tests)s") % words
    return _("No fault stops %(machine)s now.") % words


def _words(fault: Fault) -> dict[str, str]:
    return {"where": where(fault), "severity": str(fault.get_severity_display()), "note": fault.note}


def _what_it_means(fault: Fault) -> str:
    if fault.stops_use:
        words = {"machine": fault.machine.name}
        return _("%(machine)s is set aside: nobody can book it or take it until the fault is released.") % words
    return _("The machine can still go out (%(severity)s).") % _words(fault)


def _tell(
    event: str, subject: str, lines: list[str], *, fault: Fault, to: Iterable[Member], by: Member, at: datetime
) -> None:
    page = settings.SITE_ADDRESS.rstrip("/") + reverse("upkeep:fault", args=[fault.pk])
    body = "\n\n".join([*lines, _("The fault's page: %(page)s") % {"page": page}])
    for member in {member.pk: member for member in to if member.pk != by.pk}.values():
        outbox.queue(
            key=f"fault-{event}:{fault.pk}:{member.pk}",
            to=member,
            subject=subject,
            body=body,
            at=at,
            thread=f"fault:{fault.pk}",
            is_safety=True,
        )
