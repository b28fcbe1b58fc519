"""The upkeep calendar: services and safety tests as whole days, each on the day on which it is due.

It lies here and not in `upkeep` because it is written by the same hand as the calendars of bookings. Who may do it and
what can hurt stand on the plan's page alone: a feed travels further than its owner thinks.
"""

import hashlib
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta, tzinfo
from typing import Final

from django.conf import settings
from django.db.models import Q
from django.urls import reverse
from django.utils import translation
from django.utils.translation import gettext as _
from icalendar import Event

from kitshare.bookings import calendars
from kitshare.bookings.feeds import AT_ONCE, CANCELLED_SHOWN_FOR, Holding
from kitshare.people.models import Scheme
from kitshare.rules.servicing import is_overdue
from kitshare.upkeep.care_models import CarePlan, CarePlanQuerySet, UpkeepCalendar
from kitshare.upkeep.use_limits import often_in_words
from kitshare.upkeep.words import day_with_year

ONE_DAY: Final = timedelta(days=1)
# Raise it when the text of an event changes: every calendar then fetches anew.
FORMAT: Final = 2
# All that an event is written from, so that whatever changes in it changes the sum.
FACTS: Final = (
    *("pk", "key", "kind", "name", "every", "unit", "due_on", "sequence", "changed_at", "ended_on"),
    *("every_kg", "every_hours", "every_outings"),
    *("machine__name", "machine__kit__name", "machine__kit__shape"),
)


@dataclass(frozen=True, slots=True)
class CareFeed:
    """The upkeep calendar, before anything of it was read."""

    owner: str
    name: str
    colour: str
    zone: tzinfo


def of_the_upkeep(calendar: UpkeepCalendar, *, scheme: Scheme) -> CareFeed:
    name = _("%(scheme)s: services and safety tests") % {"scheme": scheme.name}
    return CareFeed(f"{calendar._meta.label_lower}:{calendar.pk}", name, calendars.SCHEME_COLOUR, scheme.zone)


def look(feed: CareFeed, *, source: str, at: datetime) -> Holding:
    """Which plans the calendar holds, in order, and a sum that differs when anything in its text does. One query."""
    today = at.astimezone(feed.zone).date()
    said = (FORMAT, feed.name, feed.colour, source, settings.SITE_ADDRESS, str(feed.zone))
    words = hashlib.sha256(repr(said).encode())
    keys = []
    for row in _shown(today).order_by("due_on", "pk").values(*FACTS):
        keys.append(row["pk"])
        words.update(repr((*row.values(), is_overdue(row["due_on"], on=today))).encode())
    return Holding(keys=keys, fingerprint=words.hexdigest())


def pieces(feed: CareFeed, holding: Holding, *, source: str, at: datetime) -> Iterator[bytes]:
    """The text of the calendar, some hundred events at a time; no cursor stays open in between."""
    yield calendars.opening(name=feed.name, colour=feed.colour, source=source)
    for start in range(0, len(holding.keys), AT_ONCE):
        yield _events(feed, holding.keys[start : start + AT_ONCE], at=at)
    yield calendars.CLOSING


def _shown(today: date) -> CarePlanQuerySet:
    """Plans in force; and ended ones for a while, so that a calendar that fetches seldom meets the end."""
    of_machines_in_use = CarePlan.objects.filter(machine__retired_on=None, machine__kit__retired_on=None)
    return of_machines_in_use.filter(Q(ended_on=None) | Q(ended_on__gt=today - CANCELLED_SHOWN_FOR))


def _events(feed: CareFeed, keys: Sequence[int], *, at: datetime) -> bytes:
    today = at.astimezone(feed.zone).date()
    found = {plan.pk: plan for plan in _shown(today).filter(pk__in=list(keys)).select_related("machine__kit")}
    # A server asks for the pieces after the request's own language is forgotten.
    with translation.override(settings.LANGUAGE_CODE):
        return b"".join(event(found[key], today=today, zone=feed.zone).to_ical() for key in keys if key in found)


def event(plan: CarePlan, *, today: date, zone: tzinfo) -> Event:
    """One plan on its due day, as a whole day that keeps nobody busy. DTEND is exclusive: the day after.

    Overdue, it stays on the day on which it was due, and its title says so from the day after on.
    """
    overdue = is_overdue(plan.due_on, on=today) and not plan.is_ended
    changed_at = plan.changed_at
    if overdue:
        changed_at = max(changed_at, datetime.combine(plan.due_on + ONE_DAY, time.min, tzinfo=zone))
    entry = Event()
    entry.add("uid", f"{plan.key}@kitshare")
    entry.add("dtstamp", calendars.in_utc(changed_at))
    entry.add("last-modified", calendars.in_utc(changed_at))
    entry.add("created", calendars.in_utc(plan.added_at))
    entry.add("sequence", plan.sequence)
    entry.add("status", "CANCELLED" if plan.is_ended else "CONFIRMED")
    entry.add("color", calendars.css_colour(calendars.KIT_COLOURS[plan.machine.kit.shape]))
    entry.add("url", f"{settings.SITE_ADDRESS.rstrip('/')}{reverse('upkeep:plan', args=[plan.pk])}")
    entry.add("dtstart", calendars.whole_day(plan.due_on))
    entry.add("dtend", calendars.whole_day(plan.due_on + ONE_DAY))
    words = {"machine": plan.machine.name, "name": plan.name}
    title = _("Overdue: %(machine)s: %(name)s") if overdue else _("%(machine)s: %(name)s")
    entry.add("summary", calendars.Text(calendars.one_line(title % words)))
    entry.add("description", calendars.Text(calendars.plain(_description(plan, overdue=overdue))))
    entry.add("transp", "TRANSPARENT")
    return entry


def _description(plan: CarePlan, *, overdue: bool) -> str:
    words = {
        "kind": str(plan.get_kind_display()),
        "interval": often_in_words(plan),
        "kit": plan.machine.kit.name,
        "day": day_with_year(plan.due_on),
    }
    lines = [_("%(kit)s: %(kind)s, %(interval)s.") % words]
    if overdue:
        lines.append(_("Due since %(day)s and not recorded as done.") % words)
    if plan.is_test and not plan.is_ended:
        lines.append(_("While it is overdue, nobody hands the machine over."))
    return "\n".join(lines)
