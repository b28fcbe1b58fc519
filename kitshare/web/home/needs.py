"""What needs somebody today, the most pressing first: the loud part of the page."""

from collections.abc import Collection, Iterator, Mapping
from datetime import date, time, timedelta
from typing import Final

from django.db.models import Count, Exists, OuterRef, Q
from django.urls import reverse
from django.utils import timezone
from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from kitshare.bookings import lateness
from kitshare.bookings.models import AHEAD, Booking, Stage, needs_a_machine_set_aside, needs_a_test_first
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.relay_words import in_short
from kitshare.bookings.waiting_models import Offer
from kitshare.outbox.models import Message
from kitshare.people.models import Member, Village
from kitshare.rules.hearing import showing
from kitshare.rules.servicing import NOTICE
from kitshare.upkeep import fitness
from kitshare.web.home.briefing_needs import of_briefing
from kitshare.web.home.check_needs import of_handovers_in_spite, of_sheets
from kitshare.web.home.heat_needs import of_batches
from kitshare.web.home.need import Need
from kitshare.web.templatetags.kitshare import day, moment
from kitshare.web.upkeep.season_facts import line_about

ONE_DAY = timedelta(days=1)
RELAYS: Final = (
    *("relay_from__first__village", "relay_from__second__village"),
    *("relay_onwards__first__village", "relay_onwards__second__village"),
)
ASKED_FOR: Final = timedelta(days=14)  # what a day gave is asked so long after the return
MOST: Final = 40  # bookings looked at; a page is for today, the lists have the rest


def needs_of(member: Member, today: date) -> list[Need]:
    """What needs this member, in at most nine queries; some more while a kit is late."""
    late = {wait.booking.pk: wait for wait in lateness.waits(today)}
    found = list(_of_bookings(member, today, late))
    if member.borrows:
        found += [*_of_offers(member), *of_briefing(member, today), *_of_days_to_write_down(member, today)]
    if member.maintains or member.coordinates:
        found += [*_of_faults(), *_of_tests(today), *_of_the_season(today)]
    if member.coordinates:
        found += [*of_handovers_in_spite(), *of_sheets(), *of_batches(today), *_of_calls(today)]
    return sorted(found, key=lambda need: need.rank)


def _pressing(member: Member, today: date, late: Collection[int]) -> list[Booking]:
    """The bookings that may need somebody now, each saying whether it is at risk and whether it is the member's own."""
    own = Village.borrowers.through.objects.filter(member=member, village=OuterRef("village"))
    due = Q(stage=Stage.ASKED) | Q(stage=Stage.OUT) | Q(stage=Stage.AGREED, out_on__lte=today + ONE_DAY)
    bookings = Booking.objects.select_related("village", *RELAYS).annotate(
        risk=needs_a_machine_set_aside(),
        # A test is mostly done in time: it is loud only when the outing is near.
        untested=needs_a_test_first(today) & Q(stage__in=AHEAD, out_on__lte=today + NOTICE),
        own=Exists(own),
    )
    bookings = bookings.filter(due | Q(untested=True) | Q(stage__in=AHEAD, risk=True) | Q(pk__in=late))
    if not (member.coordinates or member.maintains):
        bookings = bookings.filter(own=True)
    return list(bookings.order_by("out_on", "pk")[:MOST])


def _of_bookings(member: Member, today: date, late: Mapping[int, lateness.Wait]) -> Iterator[Need]:
    for booking in _pressing(member, today, late):
        concerned = member.coordinates or booking.own  # type: ignore[attr-defined]
        if not concerned:
            continue
        relay = None if booking.pk in late else _relay_to_come(booking, today)
        if relay is not None:
            yield from _of_a_relay(relay, booking, member, today)
        elif booking.stage == Stage.OUT:
            yield from _of_an_outing(booking, member, today)
        elif booking.risk:  # type: ignore[attr-defined]
            yield _at_risk(booking, _("a machine of this booking is set aside."), _("See what stops it"))
        elif wait := late.get(booking.pk):
            yield _at_risk(booking, str(wait), _("See the booking"))
        elif booking.untested:  # type: ignore[attr-defined]
            yield _at_risk(booking, _("a safety test comes before this booking."), _("See which test"))
        else:
            yield from _still_ahead(booking, member, today)


def _still_ahead(booking: Booking, member: Member, today: date) -> Iterator[Need]:
    """A booking that nothing stops: to be answered, to be collected, or left behind."""
    address = reverse("bookings:show", args=[booking.pk])
    village = booking.village.name
    if booking.stage == Stage.AGREED and booking.back_on <= today:
        text = _("%(village)s never collected the kit, agreed for %(day)s. Call it off, or change the days.")
        yield Need(
            rank=2,
            tone="care",
            word=_("not collected"),
            text=text % {"village": village, "day": day(booking.out_on)},
            address=address,
            deed=_("See the booking"),
        )
    elif booking.stage == Stage.AGREED:
        text = _("%(village)s collects the kit on %(day)s.")
        yield Need(
            rank=2,
            tone="care",
            word=_("pickup"),
            text=text % {"village": village, "day": day(booking.out_on)},
            address=reverse("checks:pickup", args=[booking.pk]) if booking.out_on <= today else address,
            deed=_("Do the pickup check") if booking.out_on <= today else _("See the booking"),
        )
    elif member.coordinates:
        text = _("%(village)s asks for %(out)s to %(back)s.")
        yield Need(
            rank=4,
            tone="plum",
            word=_("asked"),
            text=text % {"village": village, "out": day(booking.out_on), "back": day(booking.back_on)},
            address=address,
            deed=_("Answer"),
        )


def _at_risk(booking: Booking, why: str, deed: str) -> Need:
    words = {"village": booking.village.name, "day": day(booking.out_on), "why": why}
    return Need(
        rank=1,
        tone="stop",
        word=_("at risk"),
        text=_("%(village)s, %(day)s: %(why)s") % words,
        address=reverse("bookings:show", args=[booking.pk]),
        deed=deed,
    )


def _relay_to_come(booking: Booking, today: date) -> Relay | None:
    """The relay by which a kit that is out goes on, or an agreed one comes; none where it is late or may not go out."""
    is_unfit = booking.risk or booking.untested  # type: ignore[attr-defined]
    if is_unfit or (booking.stage == Stage.OUT and booking.back_on < today):
        return None
    end = {Stage.OUT: "relay_onwards", Stage.AGREED: "relay_from"}.get(Stage(booking.stage), "")
    relay: Relay | None = getattr(booking, end, None)
    return relay if relay is not None and relay.done_at is None else None


def _of_a_relay(relay: Relay, booking: Booking, member: Member, today: date) -> Iterator[Need]:
    """Told once to those who see both ends: by the booking that takes it on."""
    if booking.stage == Stage.OUT and not booking.own:  # type: ignore[attr-defined]
        return
    is_open = relay.first.stage == Stage.OUT and relay.second.out_on <= today + ONE_DAY
    address = reverse("checks:relay", args=[relay.pk]) if is_open else reverse("bookings:show", args=[booking.pk])
    yield Need(
        rank=2,
        tone="care",
        word=_("relay"),
        text=in_short(relay) + ".",
        address=address,
        deed=_("Do the relay check") if is_open else _("See the booking"),
    )


def _of_an_outing(booking: Booking, member: Member, today: date) -> Iterator[Need]:
    """A kit that is out: late, due today, or not yet anybody's concern."""
    text = _("%(village)s was to bring the kit back on %(day)s.")
    if booking.back_on > today:
        if not booking.own:  # type: ignore[attr-defined]
            return
        text = _("The kit is with you, %(village)s. It is due back by the morning of %(day)s.")
    elif booking.back_on == today:
        text = _("%(village)s brings the kit back today, %(day)s.")
    is_late = booking.back_on < today
    yield Need(
        rank=0 if is_late else 3,
        tone="stop" if is_late else "care",
        word=_("late") if is_late else _("out"),
        text=text % {"village": booking.village.name, "day": day(booking.back_on)},
        address=reverse("checks:return", args=[booking.pk]),
        deed=_("Do the return check"),
    )


def _of_offers(member: Member) -> Iterator[Need]:
    """Days offered to the member's own villages, which somebody must answer."""
    offers = Offer.objects.open().filter(booking__village__borrowers=member).select_related("booking__village")
    for offer in offers.order_by("until", "pk")[:MOST]:
        text = _("%(village)s is offered %(out)s to %(back)s. Answer by %(until)s.")
        words = {"village": offer.booking.village.name, "out": day(offer.out_on), "back": day(offer.back_on)}
        yield Need(
            rank=1,
            tone="care",
            word=_("offered"),
            text=text % (words | {"until": moment(offer.until)}),
            address=reverse("waiting:offer", args=[offer.pk]),
            deed=_("Look at it and answer"),
        )


def _of_days_to_write_down(member: Member, today: date) -> Iterator[Need]:
    """Bookings of the member's own villages that came back lately and have no day written down."""
    back = Booking.objects.filter(
        stage__in=[Stage.BACK, Stage.CLOSED],
        back_on__range=(today - ASKED_FOR, today),
        village__borrowers=member,
        day_records=None,
    )
    for booking in back.select_related("village").order_by("back_on", "pk")[:MOST]:
        text = _("%(village)s pressed from %(day)s. What did the day give? It is a minute’s work.")
        yield Need(
            rank=5,
            tone="plum",
            word=_("press day"),
            text=text % {"village": booking.village.name, "day": day(booking.out_on)},
            address=reverse("pressdays:gave", args=[booking.pk]),
            deed=_("Write it down"),
        )


def _of_faults() -> Iterator[Need]:
    stopping = fitness.stopping_faults().count()
    if stopping:
        text = ngettext("%(count)s fault stops use.", "%(count)s faults stop use.", stopping)
        yield Need(
            rank=2,
            tone="stop",
            word=_("set aside"),
            text=text % {"count": stopping},
            address=reverse("upkeep:workbench"),
            deed=_("Go to the workbench"),
        )


def _of_tests(today: date) -> Iterator[Need]:
    overdue = fitness.tests_overdue(today).count()
    if overdue:
        text = ngettext("%(count)s safety test is overdue.", "%(count)s safety tests are overdue.", overdue)
        yield Need(
            rank=2,
            tone="stop",
            word=_("set aside"),
            text=text % {"count": overdue},
            address=reverse("upkeep:due"),
            deed=_("See what is due"),
        )


def _of_the_season(today: date) -> Iterator[Need]:
    """What is left of a season's start that is near, or of its end once it has passed."""
    if said := line_about(today):
        yield Need(
            rank=6,
            tone="care",
            word=_("season"),
            text=said,
            address=reverse("upkeep:season_work"),
            deed=_("See what is left"),
        )


def _of_calls(today: date) -> Iterator[Need]:
    """Calls to make; loud and on top where nobody made one by the end of the day after."""
    before = showing(time(0), today - ONE_DAY, timezone.get_current_timezone())
    counted = Message.objects.to_telephone().aggregate(all=Count("pk"), missed=Count("pk", filter=Q(due_at__lt=before)))
    calls, missed = counted["all"], counted["missed"]
    text = ngettext(
        "%(count)s message must be told by telephone.", "%(count)s messages must be told by telephone.", calls
    ) % {"count": calls}
    if missed:
        late = ngettext(
            "%(count)s has waited since before yesterday.", "%(count)s have waited since before yesterday.", missed
        )
        text = f"{text} {late % {'count': missed}}"
    if calls:
        yield Need(
            rank=0 if missed else 3,
            tone="stop" if missed else "care",
            word=_("not rung in time") if missed else _("telephone"),
            text=text,
            address=reverse("post:calls"),
            deed=_("See whom to ring"),
        )
