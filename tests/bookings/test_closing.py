"""Closing days and opening them again; what that does to bookings, and bookings to that."""

from datetime import date, timedelta

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import actions as bookings
from kitshare.bookings import arriving, closing, retiring
from kitshare.bookings.models import BookedDay, ClosedKind, ClosedSpell, DayKind
from kitshare.bookings.refusals import MachineTaken
from kitshare.kits.models import Depot
from kitshare.logbook.models import Entry
from tests.bookings.conftest import september

pytestmark = pytest.mark.django_db


@pytest.fixture
def close(depot, perpetua, season, now, today):
    """Close the depot, Sat 18 to Mon 20 Sep, unless told otherwise."""

    def close(**changes) -> ClosedSpell:
        asked = {
            "kind": ClosedKind.DEPOT,
            "depot": depot,
            "machines": [],
            "first_day": date(2027, 9, 18),
            "last_day": date(2027, 9, 20),
            "reason": "Roof repairs",
            "by": perpetua,
            "at": now,
            "today": today,
        }
        return closing.close_days(**(asked | changes))

    return close


@pytest.fixture
def close_machines(close):
    return lambda *machines, **changes: close(kind=ClosedKind.SERVICE, machines=machines, depot=None, **changes)


@pytest.fixture
def signed(perpetua, now, today):
    return {"by": perpetua, "at": now, "today": today}


def closed_days(machine) -> list[int]:
    return list(machine.days.filter(kind=DayKind.CLOSED).order_by("day").values_list("day__day", flat=True))


def test_a_closed_depot_closes_every_machine_that_lives_there(close, mill, press, otter_mill):
    spell = close()

    assert closed_days(mill) == closed_days(press) == closed_days(otter_mill) == [18, 19, 20]
    assert spell.days.count() == 9


def test_a_machine_of_another_depot_stays_open(close, mill, otter, otter_mill, scheme):
    otter.depot = Depot.objects.create(name="Barn")
    otter.save()

    close()

    assert closed_days(otter_mill) == []


def test_a_service_closes_the_machines_named_and_no_other(close_machines, mill, press):
    close_machines(mill, reason="New belt")

    assert closed_days(mill) == [18, 19, 20]
    assert closed_days(press) == []


def test_a_closed_holiday_closes_everything(close, mill, otter_mill):
    close(kind=ClosedKind.HOLIDAY, depot=None, reason="Harvest holiday")

    assert closed_days(mill) == closed_days(otter_mill) == [18, 19, 20]


def test_closed_days_cannot_be_booked_and_the_refusal_says_why(close, ask, mill):
    close()

    with pytest.raises(MachineTaken, match="Heron mill: closed from Sat 18 Sep to Mon 20 Sep: Roof repairs") as refusal:
        ask(period=september(19, 21))

    assert "Nothing goes out on these days." in str(refusal.value)
    assert september(16, 18) not in refusal.value.nearest  # its care day would be the 18th
    assert refusal.value.nearest[0] == september(21, 23)


def test_closing_over_bookings_is_refused_and_names_them(close, ask, mill, press, fennerlow, leilani):
    ask(period=september(17, 19))
    ask(period=september(20, 22), machines=[press], village=fennerlow, borrower=leilani, by=leilani)

    with pytest.raises(closing.ClosesOverBookings, match="2 bookings stand in the way") as refusal:
        close()

    assert [holding.booking.village.name for holding in refusal.value.in_the_way] == ["Sorrelhythe", "Fennerlow"]
    assert not ClosedSpell.objects.exists()
    assert closed_days(mill) == closed_days(press) == []


def test_closing_on_the_care_day_of_a_booking_is_refused_too(close, ask):
    ask(period=september(16, 18))

    with pytest.raises(closing.ClosesOverBookings, match="cleaning and drying after Sorrelhythe"):
        close()


def test_opening_frees_exactly_its_rows(close, close_machines, ask, mill, press, signed):
    ask(period=september(11, 13))
    other = close(first_day=date(2027, 10, 1), last_day=date(2027, 10, 2))
    spell = close()
    before = set(BookedDay.objects.exclude(spell=spell).values_list("pk", flat=True))

    closing.open_again(spell=spell, **signed)

    assert set(BookedDay.objects.values_list("pk", flat=True)) == before
    assert list(ClosedSpell.objects.all()) == [other]


def test_a_day_under_two_spells_stays_closed_until_both_are_open(close, close_machines, mill, press, signed):
    depot_spell = close()
    service = close_machines(mill, first_day=date(2027, 9, 19), last_day=date(2027, 9, 22))
    assert closed_days(mill) == [18, 19, 20, 21, 22]

    closing.open_again(spell=depot_spell, **signed)
    assert closed_days(mill) == [19, 20, 21, 22]
    assert closed_days(press) == []

    closing.open_again(spell=service, **signed)
    assert closed_days(mill) == []


def test_opening_a_spell_that_has_begun_keeps_the_days_that_are_over(close, mill, perpetua, now):
    spell = close()

    closing.open_again(spell=spell, by=perpetua, at=now + timedelta(days=18), today=date(2027, 9, 19))

    spell.refresh_from_db()
    assert spell.last_day == date(2027, 9, 18)
    assert closed_days(mill) == [18]


def test_a_spell_that_is_over_or_open_already_is_not_opened(close, mill, signed):
    spell = close()

    with pytest.raises(closing.SpellIsOver):
        closing.open_again(spell=spell, **(signed | {"today": date(2027, 9, 21)}))
    closing.open_again(spell=spell, **signed)
    with pytest.raises(closing.SpellIsOver):
        closing.open_again(spell=ClosedSpell(pk=12345, kind=ClosedKind.DEPOT), **signed)


@pytest.mark.parametrize(
    ("changes", "refusal", "field"),
    [
        ({"first_day": date(2027, 8, 31)}, closing.DaysNotSensible, "last_day"),
        ({"last_day": date(2027, 9, 17)}, closing.DaysNotSensible, "last_day"),
        ({"last_day": date(2028, 9, 18)}, closing.DaysNotSensible, "last_day"),
        ({"reason": "  "}, closing.ReasonForClosingMissing, "reason"),
        ({"depot": None}, closing.ClosesNothing, "machines"),
        ({"kind": ClosedKind.SERVICE}, closing.ClosesNothing, "machines"),
    ],
)
def test_what_cannot_be_closed_so_is_refused_by_its_field(close, mill, changes, refusal, field):
    with pytest.raises(refusal) as refused:
        close(**changes)

    assert refused.value.field == field
    assert not ClosedSpell.objects.exists()
    assert not BookedDay.objects.exists()


def test_a_depot_may_be_closed_before_it_has_a_machine(close):
    assert close().days.count() == 0


def test_a_whole_year_can_be_closed_in_one_go(close, mill, press, otter_mill):
    assert close(last_day=date(2028, 9, 17)).days.count() == 3 * 366


def test_a_retired_machine_cannot_be_away_for_service(close_machines, mill, today):
    mill.retired_on = today
    mill.save()

    with pytest.raises(closing.ClosesNothing):
        close_machines(mill)


def test_maintenance_closes_a_machine_but_not_the_depot_and_a_borrower_neither(
    close, mill, teodor, sunniva, now, today
):
    service = {"kind": ClosedKind.SERVICE, "machines": [mill]}
    spell = close(**service, by=teodor)

    for refused in ({"by": teodor}, {"by": teodor, "kind": ClosedKind.HOLIDAY}, {"by": sunniva, **service}):
        with pytest.raises(closing.NotTheirsToClose):
            close(**refused)
    with pytest.raises(closing.NotTheirsToClose):
        closing.open_again(spell=spell, by=sunniva, at=now, today=today)


def test_closing_and_opening_are_each_one_line_of_the_logbook(close, mill, depot, signed):
    spell = close()
    closing.open_again(spell=spell, **signed)

    opened, closed = Entry.objects.about(mill)
    assert closed.text == (
        "Perpetua Quillstone closed Old Goods Shed, Withyhurn, from Sat 18 Sep to Mon 20 Sep: Roof repairs"
    )
    assert (closed.deed, opened.deed) == ("days_closed", "days_opened")
    assert set(Entry.objects.about(depot)) == {opened, closed}


# Machines that come and go


def test_a_new_machine_has_the_closed_days_of_its_depot(close, heron, mill, signed):
    close()

    added = arriving.add_machine(kit=heron, name="Second mill", kind="mill", **signed)

    assert closed_days(added) == [18, 19, 20]


def test_machines_from_the_starter_list_have_them_too(close, heron, signed):
    close(kind=ClosedKind.HOLIDAY, depot=None)

    [added] = arriving.add_starter_machines(kit=heron, choices=["press"], **signed)

    assert closed_days(added) == [18, 19, 20]


def test_a_new_machine_is_closed_from_today_on_only(close, heron, perpetua, now):
    close()

    later = {"by": perpetua, "at": now, "today": date(2027, 9, 20)}
    added = arriving.add_machine(kit=heron, name="Second mill", kind="mill", **later)

    assert closed_days(added) == [20]


def test_a_machine_brought_back_meets_what_was_closed_meanwhile(close, heron, mill, press, signed):
    retiring.retire_machine(machine=mill, **signed)
    close()
    assert closed_days(mill) == []

    mill.refresh_from_db()
    arriving.bring_back_machine(machine=mill, **signed)

    assert closed_days(mill) == [18, 19, 20]


def test_a_kit_brought_back_meets_what_was_closed_meanwhile(close, heron, mill, signed):
    retiring.retire_kit(kit=heron, **signed)
    close()

    heron.refresh_from_db()
    arriving.bring_back_kit(kit=heron, **signed)

    assert closed_days(mill) == [18, 19, 20]


def test_a_kit_that_moves_has_the_closed_days_of_where_it_lives_now(close, heron, mill, signed):
    barn = Depot.objects.create(name="Barn")
    close()
    close(depot=barn, first_day=date(2027, 9, 25), last_day=date(2027, 9, 25))

    arriving.change_kit(kit=heron, depot=barn, **signed)

    assert closed_days(mill) == [25]


def test_a_kit_cannot_move_to_where_closed_days_meet_its_bookings(close, ask, heron, mill, depot, signed):
    barn = Depot.objects.create(name="Barn")
    close(depot=barn)
    ask(period=september(18, 19))

    with pytest.raises(arriving.PromisedOnClosedDays, match="Sorrelhythe"):
        arriving.change_kit(kit=heron, depot=barn, **signed)

    heron.refresh_from_db()
    assert heron.depot == depot


def test_a_kit_that_comes_back_early_or_late_leaves_closed_days_as_they_are(close, agreed, mill, sunniva, now):
    booking = agreed(period=september(15, 17))
    bookings.mark_out(booking=booking, by=sunniva, at=now + timedelta(days=14))
    close()

    bookings.mark_back(booking=booking, by=sunniva, at=now + timedelta(days=17), today=date(2027, 9, 18))

    assert closed_days(mill) == [18, 19, 20]


# The constraints themselves


@pytest.mark.parametrize("wrong", ["no spell", "a booking too", "a spell on a booked day"])
def test_a_row_says_either_for_whom_or_why(wrong, close, ask, mill, otter_mill):
    spell, booking = close(), ask()
    rows = {
        "no spell": BookedDay(kind=DayKind.CLOSED),
        "a booking too": BookedDay(kind=DayKind.CLOSED, spell=spell, booking=booking),
        "a spell on a booked day": BookedDay(kind=DayKind.BOOKED, spell=spell, booking=booking),
    }
    row = rows[wrong]
    row.machine, row.day = otter_mill, date(2027, 10, 10)

    with pytest.raises(IntegrityError, match="booked_day_says_for_whom"), transaction.atomic():
        row.save()


def test_a_spell_ends_after_it_begins(scheme):
    backwards = ClosedSpell(kind=ClosedKind.HOLIDAY, first_day=date(2027, 9, 2), last_day=date(2027, 9, 1), reason="x")

    with pytest.raises(IntegrityError, match="closed_spell_begins_before_it_ends"), transaction.atomic():
        backwards.save()


@pytest.mark.parametrize("kind", ClosedKind.values)
def test_a_depot_is_named_where_one_is_closed_and_nowhere_else(kind, depot):
    spell = ClosedSpell(kind=kind, first_day=date(2027, 9, 1), last_day=date(2027, 9, 1), reason="x")
    spell.depot = None if kind == ClosedKind.DEPOT else depot

    with pytest.raises(IntegrityError, match="closed_depot_says_which"), transaction.atomic():
        spell.save()


def test_holidays_close_everything_all_of_them_or_none(close, ask, mill, otter_mill, signed):
    ask(period=september(25, 26))
    christmas, feast, fair = date(2027, 12, 25), date(2027, 9, 18), date(2027, 9, 25)

    with pytest.raises(closing.ClosesOverBookings, match="with Sorrelhythe"):
        closing.close_holidays(named={feast: "Water feast", fair: "Fair"}, **signed)
    assert closed_days(mill) == []
    with pytest.raises(closing.DaysNotSensible, match="Choose at least one day"):
        closing.close_holidays(named={}, **signed)

    spells = closing.close_holidays(named={christmas: "Christmas Day", feast: "Water feast" + "t" * 200}, **signed)

    assert [spell.first_day for spell in spells] == [feast, christmas]
    assert closed_days(mill) == closed_days(otter_mill) == [18, 25]
    assert len(spells[0].reason) == closing.LONGEST_REASON
