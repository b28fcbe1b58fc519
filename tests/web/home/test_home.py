"""The first page: what needs whom, and the season as a stack."""

from datetime import date, timedelta
from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.bookings import actions as bookings
from kitshare.bookings import briefing
from kitshare.bookings.models import Booking, Stage
from kitshare.kits.models import Machine, MachineKind
from kitshare.outbox import actions as outbox
from kitshare.pressdays import recording
from kitshare.pressdays.record_models import Given
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from kitshare.web.home.needs import needs_of
from kitshare.web.home.stack import stack

pytestmark = pytest.mark.django_db


@pytest.fixture
def book(season, now, today, perpetua, request):
    """Book for Sorrelhythe from a day of September; agreed, or standing further along as a check would leave it."""
    village = request.getfixturevalue("sorrelhythe")
    borrower = request.getfixturevalue("sunniva")
    brief = briefing.words_in_force()  # the need for it has tests of its own
    briefing.confirm_briefing(
        member=borrower,
        season=season,
        points=[point.key for point in brief.points],
        version=brief.version,
        by=borrower,
        at=now,
    )

    def book(machine, first: int, *, stage: Stage = Stage.AGREED, days: int = 2, kg: int = 300) -> Booking:
        start = date(2027, 9, first)
        booking = bookings.book_kit(
            village=village,
            borrower=borrower,
            machines=[machine],
            period=Period(start=start, end=start + timedelta(days=days)),
            fruit_amount=Decimal(kg),
            fruit_unit="kg",
            note="",
            by=borrower,
            at=now,
            today=today,
        )
        if stage != Stage.ASKED:
            bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)
        if stage == Stage.OUT:
            Booking.objects.filter(pk=booking.pk).update(stage=Stage.OUT)
        return booking

    return book


def words(member, day) -> list[str]:
    return [need.word for need in needs_of(member, day)]


def test_with_nothing_to_do_the_list_is_empty_and_the_page_says_so(signed_in, sunniva, season):
    page = signed_in(sunniva).get(reverse("home:home")).content.decode()

    assert "Nothing today." in page


def test_a_coordinator_answers_what_was_asked_and_a_borrower_waits(book, mill, perpetua, sunniva, today):
    book(mill, 11, stage=Stage.ASKED)

    assert words(perpetua, today) == ["asked"]
    assert words(sunniva, today) == []


@pytest.mark.parametrize(("day", "expected"), [(9, []), (10, ["pickup"]), (11, ["pickup"])])
def test_a_pickup_is_loud_from_the_day_before(book, mill, sunniva, day, expected):
    book(mill, 11)

    assert words(sunniva, date(2027, 9, day)) == expected


@pytest.mark.parametrize(
    ("day", "borrower", "coordinator"), [(12, "out", None), (13, "out", "out"), (14, "late", "late")]
)
def test_a_return_is_the_borrowers_at_once_and_the_coordinators_when_due(
    book, mill, sunniva, perpetua, day, borrower, coordinator
):
    book(mill, 11, stage=Stage.OUT)

    assert words(sunniva, date(2027, 9, day)) == [borrower]
    assert words(perpetua, date(2027, 9, day)) == ([coordinator] if coordinator else [])


def test_a_booking_at_risk_comes_first_for_those_concerned(
    book, mill, otter_mill, sunniva, leilani, perpetua, teodor, now, today
):
    book(otter_mill, 18, stage=Stage.ASKED)
    book(mill, 25)
    upkeep.report_fault(machine=mill, part=None, note="Bent shaft.", severity=Severity.STOPS_USE, by=teodor, at=now)

    assert words(perpetua, today) == ["at risk", "set aside", "asked"]
    assert words(sunniva, today) == ["at risk"]
    assert words(teodor, today) == ["set aside"]
    assert words(leilani, today) == []


def test_what_waits_for_a_late_kit_is_at_risk_and_says_from_whom(book, mill, sunniva, leilani, perpetua):
    book(mill, 11, stage=Stage.OUT)
    book(mill, 16)

    loud = [need.text for need in needs_of(perpetua, date(2027, 9, 14)) if need.word == "at risk"]

    assert loud == ["Sorrelhythe, Thu 16 Sep 2027: Heron mill: not back from Sorrelhythe, due on Mon 13 Sep."]
    assert words(leilani, date(2027, 9, 14)) == []
    assert words(perpetua, date(2027, 9, 12)) == []


def test_an_agreed_kit_that_nobody_collected_asks_to_be_called_off(book, mill, perpetua, sunniva):
    book(mill, 11)

    assert words(perpetua, date(2027, 9, 12)) == ["pickup"]
    assert words(perpetua, date(2027, 9, 13)) == words(sunniva, date(2027, 9, 13)) == ["not collected"]


def test_a_message_for_somebody_without_an_address_is_a_call_to_make(perpetua, sunniva, now, today):
    sunniva.email = None
    outbox.queue(key="a", to=sunniva, subject="Tomorrow", body="Bring crates.", at=now)

    assert words(perpetua, today) == ["telephone"]


def test_a_week_counts_what_was_recorded_and_where_nothing_was_what_is_expected(book, mill, season, sunniva, now):
    """300 kg that gave 171 litres, in two days; 400 kg not recorded, at 0.55 litres a kilogram: 220."""
    first, _second = book(mill, 6, kg=300, stage=Stage.OUT), book(mill, 9, kg=400)
    for day, litres in ((6, 100), (7, 71)):
        recording.record_day(
            booking=first,
            day=date(2027, 9, day),
            given=Given(pressed_kg=Decimal(150), litres_fresh=Decimal(litres - 50), litres_heated=Decimal(50)),
            machines=[],
            by=sunniva,
            at=now,
            today=date(2027, 9, 8),
        )
    Booking.objects.filter(pk=first.pk).update(stage=Stage.CLOSED)

    [week] = [one for one in stack(season=season, today=date(2027, 9, 15)) if one.monday == date(2027, 9, 6)]
    Booking.objects.exclude(pk=first.pk).delete()
    [alone] = [one for one in stack(season=season, today=date(2027, 9, 15)) if one.monday == date(2027, 9, 6)]

    assert (week.juice_litres, week.is_estimate) == (391, True)
    assert (alone.juice_litres, alone.is_estimate) == (171, False)


@pytest.mark.parametrize(("days", "expected"), [(0, ["press day"]), (14, ["press day"]), (15, [])])
def test_what_a_day_gave_is_asked_of_its_village_for_a_fortnight(book, mill, sunniva, perpetua, days, expected):
    book(mill, 11, stage=Stage.OUT)
    Booking.objects.update(stage=Stage.BACK)

    assert words(sunniva, date(2027, 9, 13) + timedelta(days=days)) == expected
    assert words(perpetua, date(2027, 9, 13) + timedelta(days=days)) == []


def test_what_is_written_down_is_not_asked_again(book, mill, sunniva, now):
    booking = book(mill, 11, stage=Stage.OUT)
    Booking.objects.update(stage=Stage.BACK)

    recording.record_day(
        booking=booking,
        day=date(2027, 9, 11),
        given=Given(pressed_kg=Decimal(0)),
        machines=[],
        by=sunniva,
        at=now,
        today=date(2027, 9, 13),
    )

    assert words(sunniva, date(2027, 9, 13)) == []


def test_the_stack_presses_weeks_that_are_over_and_keeps_their_sum(book, mill, season):
    """Sums worked out by hand: 300 kg and 400 kg at the expected 0.55 litres a kilogram (rules.sizing says whence)."""
    book(mill, 6, kg=300)
    book(mill, 9, kg=400)

    layers = {layer.monday: layer for layer in stack(season=season, today=date(2027, 9, 15))}

    assert layers[date(2027, 9, 6)].place == "over"
    assert layers[date(2027, 9, 6)].outings == 2
    assert layers[date(2027, 9, 6)].juice_litres == Decimal("385")
    assert layers[date(2027, 9, 6)].bookings == ()
    assert layers[date(2027, 9, 13)].place == "now"
    assert layers[date(2027, 9, 20)].place == "later"


def test_a_kit_still_out_from_last_week_lies_in_this_week(book, mill, season):
    late = book(mill, 9, stage=Stage.OUT)

    layers = stack(season=season, today=date(2027, 9, 15))

    [this_week] = [layer for layer in layers if layer.place == "now"]
    assert this_week.bookings == (late,)
    assert [layer.outings for layer in layers if layer.outings] == [1]


def test_declined_and_called_off_bookings_lie_in_no_layer(book, mill, season, perpetua, now):
    booking = book(mill, 20, stage=Stage.ASKED)
    bookings.decline(booking=booking, reason="Hall is let.", by=perpetua, at=now, revision=booking.revision)

    assert sum(layer.outings for layer in stack(season=season, today=date(2027, 9, 15))) == 0


def test_every_week_of_the_season_lies_in_one_layer_and_free_ones_to_come_together(book, mill, season):
    book(mill, 29)

    layers = stack(season=season, today=date(2027, 9, 15))

    assert [(layer.monday, layer.weeks) for layer in layers] == [
        *((date(2027, 8, 9) + timedelta(weeks=week), 1) for week in range(6)),
        (date(2027, 9, 20), 1),
        (date(2027, 9, 27), 1),
        (date(2027, 10, 4), 9),
    ]
    assert layers[-1].sunday == date(2027, 12, 5)


def test_without_a_season_the_coordinator_is_told_to_set_one(signed_in, perpetua):
    page = signed_in(perpetua).get(reverse("home:home")).content.decode()

    assert "No season has been set yet" in page
    assert "Set the season" in page


@pytest.mark.parametrize("many", [1, 12])
def test_the_page_takes_the_same_queries_however_much_there_is(
    many, book, heron, client, perpetua, django_assert_num_queries
):
    for number in range(many):
        book(Machine.objects.create(kit=heron, name=f"Mill {number}", kind=MachineKind.MILL), 3 + number)
    client.force_login(perpetua)

    with django_assert_num_queries(18):  # three of them ask how the site itself stands
        client.get(reverse("home:home"))


def test_only_those_who_may_ask_for_a_kit_are_shown_the_way(signed_in, sunniva, teodor, perpetua):
    shown = [reverse("bookings:new") in signed_in(one).get("/").content.decode() for one in (sunniva, teodor, perpetua)]

    assert shown == [True, False, True]
