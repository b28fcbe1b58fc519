"""What each calendar feed holds, whether that has changed, and its text piece by piece."""

import hashlib
from array import array
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, tzinfo
from typing import Final

from django.conf import settings
from django.db.models import Q
from django.utils import translation
from django.utils.translation import gettext as _
from icalendar import Event

from kitshare.bookings import calendars
from kitshare.bookings.at_risk import NOTHING_AT_RISK, AtRisk
from kitshare.bookings.models import Booking, BookingQuerySet, FeedState, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.engine import deed
from kitshare.kits.models import Kit, Machine
from kitshare.people.models import FeedOwner, Member, Scheme, Village

# A calendar that fetches now and then must still meet the cancellation of what it shows.
CANCELLED_SHOWN_FOR: Final = timedelta(days=14)
LOOKS_BACK: Final = timedelta(days=400)
# Handovers are shown at their times while somebody may still plan by them; of others the days are enough.
TIMED_BACK: Final = timedelta(days=14)
TIMED_AHEAD: Final = timedelta(days=200)
TIMED: Final = (Stage.AGREED, Stage.OUT, Stage.CALLED_OFF)
SHOWN: Final = (Stage.AGREED, Stage.OUT, Stage.BACK, Stage.CLOSED)

AT_ONCE: Final = 100
RELAYS: Final = ("relay_from__first__village", "relay_onwards__second__village")
# Raise it when the text of an event changes: every calendar then fetches anew.
FORMAT: Final = 5


@dataclass(frozen=True, slots=True)
class Feed:
    """One calendar, before anything of it was read."""

    owner: str
    name: str
    colour: str
    bookings: BookingQuerySet


def of_the_scheme(scheme: Scheme) -> Feed:
    return Feed(_key(scheme), scheme.name, calendars.SCHEME_COLOUR, Booking.objects.all())


def of_a_village(village: Village) -> Feed:
    return Feed(_key(village), village.name, calendars.SCHEME_COLOUR, Booking.objects.filter(village=village))


def of_a_kit(kit: Kit) -> Feed:
    own = Machine.objects.filter(kit=kit)
    bookings = Booking.objects.filter(pk__in=Booking.machines.through.objects.filter(machine__in=own).values("booking"))
    return Feed(_key(kit), kit.name, calendars.KIT_COLOURS[kit.shape], bookings)


def of_a_member(member: Member, *, scheme: Scheme) -> Feed:
    """The bookings that a member may see: of their own villages, or all of them for those who run the scheme."""
    name = _("%(scheme)s (%(member)s)") % {"scheme": scheme.name, "member": member.name}
    return Feed(_key(member), name, calendars.SCHEME_COLOUR, Booking.objects.visible_to(member))


def _key(owner: FeedOwner) -> str:
    return f"{owner._meta.label_lower}:{owner.pk}"


def shown_in_a_feed(bookings: BookingQuerySet, *, at: datetime) -> BookingQuerySet:
    """Agreed bookings of the last 400 days and all to come; called-off ones for fourteen days."""
    # Whoever left the waiting list was never shown as coming: there is nothing to strike.
    called_off = Q(stage=Stage.CALLED_OFF, ended_at__gte=at - CANCELLED_SHOWN_FOR, waiting_place__isnull=True)
    return bookings.filter(Q(stage__in=SHOWN) | called_off).filter(back_on__gte=at.date() - LOOKS_BACK)


@dataclass(frozen=True, slots=True)
class Holding:
    """Which bookings a feed holds, in order, and a sum that differs when anything in its text does."""

    keys: Sequence[int]
    fingerprint: str
    at_risk: AtRisk = NOTHING_AT_RISK


def look(feed: Feed, *, source: str, at: datetime) -> Holding:
    """Read no more than tells whether the feed has changed: keys, revisions, and the names that it would show."""
    zone = _zone()
    words = hashlib.sha256(repr((FORMAT, feed.name, feed.colour, source, settings.SITE_ADDRESS, str(zone))).encode())
    machines = Machine.objects.order_by("pk")
    facts = ("pk", "name", "position", "kit_id", "kit__name", "kit__shape")
    words.update(repr(list(machines.values_list(*facts))).encode())
    # The other village of a relay may be renamed, which changes no booking of this feed.
    meets = Relay.objects.order_by("pk").values_list("pk", "first__village__name", "second__village__name")
    words.update(repr(list(meets)).encode())
    at_risk = AtRisk.on(at.astimezone(zone).date())
    words.update(repr(at_risk.facts).encode())
    keys = array("q")
    rows = shown_in_a_feed(feed.bookings, at=at).order_by("out_on", "pk")
    told = rows.values_list("pk", "revision", "village__name", "stage", "back_on")
    for key, revision, village, stage, back_on in told.iterator():
        keys.append(key)
        words.update(repr((key, revision, village, _is_timed(stage, back_on, at))).encode())
    return Holding(keys=keys, fingerprint=words.hexdigest(), at_risk=at_risk)


def held_since(owner: str, holding: Holding, *, at: datetime) -> datetime:
    """Since when an owner's feed has held what it holds now: as far as anybody has fetched it."""
    state = FeedState.objects.filter(owner=owner, fingerprint=holding.fingerprint).first()
    return state.since if state else _note_change(owner=owner, fingerprint=holding.fingerprint, at=at)


@deed
def _note_change(*, owner: str, fingerprint: str, at: datetime) -> datetime:
    """Note that a feed changed. HTTP dates have whole seconds: a second change within one counts for the next."""
    since = at.replace(microsecond=0)
    before = FeedState.objects.select_for_update().filter(owner=owner).first()
    if before is not None:
        since = max(since, before.since + timedelta(seconds=1))
    FeedState.objects.update_or_create(owner=owner, defaults={"fingerprint": fingerprint, "since": since})
    return since


def pieces(feed: Feed, holding: Holding, *, source: str, at: datetime) -> Iterator[bytes]:
    """The text of a feed, some hundred events at a time.

    No cursor stays open from one piece to the next: on SQLite a slow reader would keep every writer waiting.
    """
    zone = _zone()
    yield calendars.opening(name=feed.name, colour=feed.colour, source=source)
    shown = shown_in_a_feed(feed.bookings, at=at)
    for start in range(0, len(holding.keys), AT_ONCE):
        yield _events(shown, holding.keys[start : start + AT_ONCE], holding.at_risk, zone=zone, at=at)
    yield calendars.CLOSING


def _zone() -> tzinfo:
    scheme = Scheme.objects.current()
    return scheme.zone if scheme else UTC


def _is_timed(stage: str, back_on: date, at: datetime) -> bool:
    return stage in TIMED and at.date() - TIMED_BACK <= back_on <= at.date() + TIMED_AHEAD


def _events(shown: BookingQuerySet, keys: Sequence[int], at_risk: AtRisk, *, zone: tzinfo, at: datetime) -> bytes:
    """Some events; without a booking that has left the feed since it was looked at."""
    found = {booking.pk: booking for booking in shown.filter(pk__in=list(keys)).with_people().select_related(*RELAYS)}
    in_order = [found[key] for key in keys if key in found]
    # A server asks for the pieces after the request's own language and zone are forgotten.
    with translation.override(settings.LANGUAGE_CODE):
        return b"".join(entry.to_ical() for one in in_order for entry in _of(one, at_risk, zone=zone, at=at))


def _of(booking: Booking, at_risk: AtRisk, *, zone: tzinfo, at: datetime) -> list[Event]:
    machines = list(booking.machines.all())
    timed = calendars.handovers(booking, machines, zone=zone) if _is_timed(booking.stage, booking.back_on, at) else []
    return [calendars.event(booking, machines, at_risk=at_risk.of(booking, machines)), *timed]
