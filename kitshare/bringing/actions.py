"""Bringing bookings in from a file, all or nothing, and taking them back while nothing has happened to them."""

from collections import defaultdict
from collections.abc import Sequence
from datetime import date, datetime
from decimal import Decimal

from django.conf import settings
from django.db import IntegrityError, transaction
from django.urls import reverse
from django.utils.translation import gettext as _

from kitshare.bookings import days, recording
from kitshare.bookings.models import AHEAD, BookedDay, Booking, Stage
from kitshare.bookings.refusals import NotTheirs
from kitshare.bookings.relay_models import Relay
from kitshare.bookings.words import days_in_words, machines_in_words
from kitshare.bringing.judging import Judgement, judge
from kitshare.bringing.meaning import OVER, Terms, Verdict
from kitshare.bringing.models import BroughtFile, Telling
from kitshare.bringing.refusals import CannotTakeBack, NotAllFit, NothingToMake, PeopleWereTold, TakenBack
from kitshare.bringing.rows import Sheet, as_plain, from_plain
from kitshare.bringing.steps import Step, counted, no_step
from kitshare.engine import deed
from kitshare.outbox import actions as outbox
from kitshare.outbox.speaking import in_each_language
from kitshare.people.models import Member, Scheme
from kitshare.upkeep import use

AT_ONCE = 500


@deed
def keep(
    *,
    name: str,
    digest: str,
    sheet: Sheet,
    coming_as: str,
    telling: str,
    fruit_kg: Decimal | None,
    by: Member,
    at: datetime,
) -> BroughtFile:
    """Keep what was read from a file for the look at it. No booking is made, and nothing is promised."""
    _check_coordinates(by)
    kept = BroughtFile(
        owner=by,
        name=name[:200],
        digest=digest,
        rows=[as_plain(row) for row in sheet.rows],
        remarks=list(sheet.remarks),
        coming_as=coming_as,
        telling=telling,
        fruit_kg=fruit_kg,
        read_at=at,
    )
    kept.save(force_insert=True)
    return kept


def look(brought: BroughtFile, *, scheme: Scheme, today: date, step: Step = no_step) -> Judgement:
    """What would become of a file's rows now. It writes nothing."""
    terms = Terms(coming_as=Stage(brought.coming_as), fruit_kg=brought.fruit_kg, scheme=scheme, today=today)
    return judge(counted(map(from_plain, brought.rows), step), terms=terms)


@deed
def bring_in(
    *,
    brought: BroughtFile,
    by: Member,
    at: datetime,
    today: date,
    looked_over: Judgement | None = None,
    step: Step = no_step,
) -> BroughtFile:
    """Make every booking of the file, or none. Asked for twice, it is done once.

    The rows are judged once to learn which machines they are about, and again when nobody else can change those.
    Whoever judged them just now, before anybody had to wait, gives that as `looked_over`; each booking is a `step`.
    """
    _check_coordinates(by)
    kept = BroughtFile.objects.select_for_update().get(pk=brought.pk)
    if kept.taken_back_at is not None:
        raise TakenBack
    if kept.brought_at is not None:
        return kept
    scheme = Scheme.objects.current() or Scheme()
    first = looked_over or look(kept, scheme=scheme, today=today)
    days.lock_machines(machine.pk for one in first.verdicts for machine in one.machines)
    judged = look(kept, scheme=scheme, today=today)
    if judged.in_the_way:
        raise NotAllFit(judged.in_the_way)
    if not judged.can_be_made:
        raise NothingToMake
    try:
        with transaction.atomic():
            made = _make(judged, at=at)
    except IntegrityError as taken:
        raise NotAllFit(1) from taken
    kept.bookings.set(made)
    kept.brought_at = at
    kept.save(update_fields=["brought_at"])
    _write_down(judged, made, by=by, at=at, step=step)
    _join(judged, made, by=by, at=at)
    use.estimate_past(
        {
            booking.pk: use.Work(day=booking.out_on, machines=tuple(one.machines), kg=booking.fruit_kg)
            for booking, one in zip(made, judged.to_make, strict=True)
            if one.stage in OVER
        }
    )
    if kept.telling == Telling.BORROWERS:
        _tell(kept, [one for one in judged.to_make if one.is_ahead(today)], by=by, at=at)
    return kept


@deed
def take_back(*, brought: BroughtFile, by: Member, at: datetime) -> BroughtFile:
    """Take away every booking that a file made, as though it had not been: only while nothing has happened to any."""
    _check_coordinates(by)
    kept = BroughtFile.objects.select_for_update().get(pk=brought.pk)
    if kept.brought_at is None or kept.taken_back_at is not None:
        return kept
    if kept.telling == Telling.BORROWERS:
        raise PeopleWereTold
    machines = Booking.machines.through.objects.filter(booking__brought_by=kept)
    days.lock_machines(machines.values_list("machine_id", flat=True))
    made = list(kept.bookings.with_people().select_for_update(of=("self",)).order_by("pk"))
    with_more = _with_more(made)
    moved = [booking for booking in made if booking.revision != 1 or booking.pk in with_more]
    if moved:
        raise CannotTakeBack(moved)
    for booking in made:
        text = _("%(who)s took back the booking of %(village)s that a file had made: %(machines)s, %(days)s.")
        recording.record(
            "booking_taken_back", text, booking=booking, machines=list(booking.machines.all()), by=by, at=at
        )
    # A relay that somebody arranged since has changed both its bookings; these came with the file.
    Relay.objects.filter(second__in=made).delete()
    use.forget([booking.pk for booking in made])
    Booking.objects.filter(pk__in=[booking.pk for booking in made]).delete()
    kept.taken_back_at = at
    kept.save(update_fields=["taken_back_at"])
    return kept


@deed
def throw_away(*, brought: BroughtFile, by: Member) -> None:
    """Forget a file that was only looked at."""
    _check_coordinates(by)
    BroughtFile.objects.filter(pk=brought.pk, brought_at=None).delete()


def sweep(*, at: datetime) -> int:
    """Forget what was read from files a week ago; the bookings stay. How many files those were.

    Asked every minute: where there is nothing to forget, no writer is kept waiting.
    """
    return _forget(at=at) if BroughtFile.objects.kept_too_long(at).exists() else 0


@deed
def _forget(*, at: datetime) -> int:
    _count, by_model = BroughtFile.objects.kept_too_long(at).delete()
    return by_model.get(BroughtFile._meta.label, 0)


def _check_coordinates(by: Member) -> None:
    if not by.coordinates:
        raise NotTheirs


def _make(judged: Judgement, *, at: datetime) -> list[Booking]:
    """Write the bookings, their machines and their days, a few hundred rows at a time."""
    to_make = judged.to_make
    made: list[Booking] = Booking.objects.bulk_create([_booking(one, at=at) for one in to_make], batch_size=AT_ONCE)
    of = {id(one): booking for one, booking in zip(to_make, made, strict=True)}
    through = Booking.machines.through
    through.objects.bulk_create(
        [through(booking=of[id(one)], machine=machine) for one in to_make for machine in one.machines],
        batch_size=AT_ONCE,
    )
    held = sorted(judged.table.claimed.items(), key=lambda claim: claim[0])
    BookedDay.objects.bulk_create(
        [
            BookedDay(machine_id=machine, day=day, kind=kind, booking=of[id(one)])
            for (machine, day), (one, kind) in held
        ],
        batch_size=AT_ONCE,
    )
    return made


def _write_down(judged: Judgement, made: Sequence[Booking], *, by: Member, at: datetime, step: Step) -> None:
    """A line of the logbook for each booking."""
    for booking, one in counted(zip(made, judged.to_make, strict=True), step):
        text = _("%(who)s brought in the booking of %(village)s from a file: %(machines)s, %(days)s.")
        recording.record("booking_brought_in", text, booking=booking, machines=one.machines, by=by, at=at)


def _join(judged: Judgement, made: Sequence[Booking], *, by: Member, at: datetime) -> None:
    """Write the relays by which one row hands the machines straight to another; those that are over are history."""
    of = {id(one): booking for one, booking in zip(judged.to_make, made, strict=True)}
    Relay.objects.bulk_create(
        Relay(
            first=of[id(one.takes_from)],
            second=of[id(one)],
            carried_by=one.row.carried_by,
            meet_at=one.row.meet_at,
            arranged_by=by,
            arranged_at=at,
            done_at=None if one.stage in AHEAD else at,
        )
        for one in judged.to_make
        if one.takes_from is not None
    )


def _booking(one: Verdict, *, at: datetime) -> Booking:
    assert one.period is not None  # noqa: S101
    assert one.uid is not None  # noqa: S101
    return Booking(
        uid=one.uid,
        village=one.village,
        borrower=one.borrower,
        stage=one.stage,
        out_on=one.period.start,
        back_on=one.period.end,
        out_time=one.out_time,
        back_time=one.back_time,
        fruit_amount=one.fruit_amount,
        fruit_unit=one.fruit_unit,
        fruit_kg=one.fruit_kg,
        note=one.row.note,
        reason=one.row.reason,
        asked_at=at,
        changed_at=at,
    )


def _with_more(made: Sequence[Booking]) -> set[int]:
    """The keys of those about which anything else is kept: a handover check, a press day's plan, a photo."""
    own = {BookedDay, BroughtFile, Relay, Booking.machines.through}
    found: set[int] = set()
    for relation in Booking._meta.related_objects:
        if relation.related_model not in own:
            name = relation.field.name
            rows = relation.related_model._base_manager.filter(**{f"{name}__in": made})
            found.update(rows.values_list(name, flat=True))
    return found


@in_each_language
def _tell(brought: BroughtFile, coming: Sequence[Verdict], *, by: Member, at: datetime) -> None:
    """One message to each borrower about all that is still to come, however many those are."""
    of_member: defaultdict[Member, list[Verdict]] = defaultdict(list)
    for one in coming:
        assert one.borrower is not None  # noqa: S101
        of_member[one.borrower].append(one)
    address = settings.SITE_ADDRESS.rstrip("/") + reverse("bookings:list")
    for member, theirs in of_member.items():
        lines = [_("%(who)s wrote these bookings into the calendar. They stood on paper before.") % {"who": by.name}]
        lines += [_line(one) for one in theirs]
        lines.append(_("Look them over, and telephone if one is wrong: %(address)s") % {"address": address})
        outbox.queue(
            key=f"brought-in:{brought.pk}:{member.pk}",
            to=member,
            subject=_("Your bookings are in the calendar now"),
            body="\n\n".join(lines),
            at=at,
        )


def _line(one: Verdict) -> str:
    assert one.period is not None  # noqa: S101
    words = {
        "village": one.village,
        "machines": machines_in_words(one.machines),
        "days": days_in_words(one.period),
        "stage": one.stage.label,
    }
    return _("%(village)s, %(days)s, %(stage)s: %(machines)s") % words
