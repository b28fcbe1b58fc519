"""Each row judged by what is here: whose it is, whether it fits, and in words why not."""

from datetime import date, time

import pytest

from kitshare.bookings import actions as bookings
from kitshare.bookings import closing, feeds, relays
from kitshare.bookings.models import BookedDay, Booking, ClosedKind, DayKind, Stage
from kitshare.bookings.relay_models import Relay
from kitshare.bringing import actions as bringing
from kitshare.bringing import copies
from kitshare.bringing.naming import Names, plain_name
from kitshare.bringing.refusals import NotAllFit
from kitshare.kits.models import Kit, Machine
from kitshare.people.models import Member, Village
from kitshare.rules.periods import Period
from tests.bookings.conftest import agreed, ask, september, set_aside
from tests.bringing.conftest import diary, table

__all__ = ["agreed", "ask", "set_aside"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def world(season, sorrelhythe, fennerlow, mill, press, otter_mill):
    """Two villages with one borrower each, and three machines."""


# Names


@pytest.mark.parametrize(
    ("written", "meant"),
    [
        ("St Wenno's Cross", "St Wenno's Cross"),
        ("st wennos cross", "St Wenno's Cross"),
        ("ST WENNO’S CROSS", "St Wenno's Cross"),
        ("Ty Ferrow", "Tŷ-Ferrow"),
        ("TŶ–FERROW", "Tŷ-Ferrow"),
        (" sorrelhythe ", "Sorrelhythe"),
    ],
)
def test_a_village_is_known_whatever_its_case_accents_and_apostrophes(written, meant):
    for name in ("St Wenno's Cross", "Tŷ-Ferrow"):
        Village.objects.create(name=name)

    assert Names().village(written).name == meant


def test_what_is_written_exactly_is_meant_before_what_only_looks_like_it(fennerlow):
    other = Village.objects.create(name="FENNERLOW")

    assert Names().village("FENNERLOW") == other
    assert Names().village("Fennerlow") == fennerlow


def test_signs_alone_name_nothing(look):
    assert plain_name("-'´") == ""
    assert "is no village of ours" in look(table({"village": "-'"}))[0][1]


@pytest.mark.parametrize(
    ("changes", "why"),
    [
        ({"village": "Sorelhythe"}, "“Sorelhythe” is no village of ours. Near: Sorrelhythe."),
        ({"village": "Zzz"}, "“Zzz” is no village of ours."),
        ({"machines": "Heron mil"}, "“Heron mil” is no machine or kit of ours. Near: Heron mill, Heron"),
        ({"borrower": "Suniva Okparadine"}, "is no member of ours. Near: Sunniva Okparadine."),
        ({"borrower": "Leilani Crabbwater"}, "Leilani Crabbwater does not sign for Sorrelhythe."),
        ({"village": ""}, "Give the village."),
        ({"machines": ""}, "Give the machines, or the kit."),
        ({"back_on": ""}, "Give the day it goes out and the day it is back."),
        ({"back_on": "2027-09-11"}, "It is back by the morning of a day after the one it goes out on."),
        ({"fruit_amount": ""}, "Give the fruit, or send the file again with an amount"),
        ({"fruit_amount": "30000"}, "at most 20,000 kilograms"),
        ({"back_on": "2027-10-11"}, "A booking lasts 21 days at most; this one has 30."),
        ({"out_on": "2027-12-11", "back_on": "2027-12-13"}, "Outside the season. Autumn 2027 runs from"),
        ({"out_on": "2027-11-29", "back_on": "2027-12-02"}, "Outside the season."),
        ({"stage": "closed"}, "Its first day is still to come, so it cannot be closed."),
        ({"stage": "out"}, "Its first day is still to come, so it cannot be out."),
        ({"out_time": "25:00"}, "Collected at: “25:00” is no time of day"),
    ],
)
def test_what_is_not_understood_is_said(look, changes, why):
    [(standing, words)] = look(table(changes))

    assert standing == "unclear"
    assert why in words


def test_everything_wrong_with_a_row_is_said_at_once(look):
    [(_standing, words)] = look(table({"village": "Zzz", "machines": "Yyy", "fruit_amount": ""}))

    assert "“Zzz”" in words
    assert "“Yyy”" in words
    assert "Give the fruit" in words


def test_a_kit_stands_for_its_machines_in_use(bring, mill, press, heron):
    Machine.objects.create(kit=heron, name="Old press", kind="press", retired_on=date(2027, 1, 1))

    bring(table({"machines": "heron"}))

    assert set(Booking.objects.get().machines.all()) == {mill, press}


def test_two_machines_of_one_name_are_told_apart_by_their_kit(look, depot):
    wren = Kit.objects.create(name="Wren", depot=depot)
    Machine.objects.create(kit=wren, name="Heron mill", kind="mill")

    assert "may be: Heron: Heron mill, Wren: Heron mill" in look(table({}))[0][1]
    assert look(table({"machines": "Wren: Heron mill"}))[0] == ("make", "")


def test_who_signs_is_asked_where_two_could(look, sorrelhythe):
    sorrelhythe.borrowers.add(Member.objects.create(name="Second Signer", borrows=True))

    assert "Say who signs for Sorrelhythe: " in look(table({}))[0][1]
    assert look(table({"borrower": "second signer"}))[0][0] == "make"


def test_nobody_signs_for_a_new_village(look):
    Village.objects.create(name="Linnowby")

    assert "Nobody signs for Linnowby yet." in look(table({"village": "Linnowby"}))[0][1]


def test_fruit_that_is_not_given_is_taken_as_chosen_and_that_is_said(look):
    assert look(table({"fruit_amount": ""}), fruit_kg="350") == [("make", "Fruit not given: 350 kg taken.")]


def test_a_village_that_left_is_history_and_no_more(look, sorrelhythe):
    sorrelhythe.left_on = date(2027, 8, 30)
    sorrelhythe.save()

    coming, over = look(table({}, {"out_on": "2027-08-20", "back_on": "2027-08-22", "borrower": "Leilani Crabbwater"}))

    assert coming[0] == "unclear"
    assert "has left the scheme" in coming[1]
    assert over == ("make", "")


def test_a_retired_machine_is_history_and_no_more(look, mill):
    mill.retired_on = date(2027, 8, 30)
    mill.save()

    coming, over = look(table({}, {"out_on": "2027-08-20", "back_on": "2027-08-22"}))

    assert coming[0] == "unclear"
    assert "No longer lent: Heron mill." in coming[1]
    assert over == ("make", "")


def test_a_machine_that_is_set_aside_is_promised_and_in_danger(look, set_aside, mill):
    set_aside(mill)

    assert look(table({})) == [("make", "Set aside now, so it is in danger until released: Heron mill.")]


def test_history_of_no_season_is_taken_and_said(look):
    assert look(table({"out_on": "2026-09-05", "back_on": "2026-09-07"})) == [
        ("make", "In no season that is written down here.")
    ]


# Calendars of others


def test_an_entry_of_somebody_else_is_understood_by_its_title(bring, sorrelhythe, mill, press):
    bring(
        diary("UID:7@paper\nDTSTART;VALUE=DATE:20270911\nSUMMARY:Heron to SORRELHYTHE\nDESCRIPTION:Ring first"),
        fruit_kg="300",
    )

    booking = Booking.objects.get()
    assert booking.village == sorrelhythe
    assert set(booking.machines.all()) == {mill, press}
    assert (booking.note, booking.fruit_kg) == ("Ring first", 300)
    assert (booking.out_on, booking.back_on) == (date(2027, 9, 11), date(2027, 9, 12))


def test_the_longer_of_two_names_is_meant(sunniva):
    for name in ("Larkenhoe", "Upper Larkenhoe"):
        Village.objects.create(name=name)

    assert Names().village_in("Heron, upper larkenhoe").name == "Upper Larkenhoe"


@pytest.mark.parametrize(
    ("title", "why"),
    [
        ("Heron to the fair", "names no village of ours"),
        ("Heron: Sorrelhythe or Fennerlow", "names several villages: Sorrelhythe, Fennerlow"),
        ("Sorrelhythe presses", "names no machine or kit of ours"),
        ("Sorrelhythes Heron", "names no village of ours"),
    ],
)
def test_a_title_that_does_not_say_enough_is_not_guessed(look, title, why):
    [(standing, words)] = look(diary(f"DTSTART;VALUE=DATE:20270911\nSUMMARY:{title}"), fruit_kg="300")

    assert standing == "unclear"
    assert why in words


def test_what_is_called_off_or_repeats_says_so(look):
    called_off, repeats = look(
        diary(
            "DTSTART;VALUE=DATE:20270911\nSUMMARY:Sorrelhythe: Heron\nSTATUS:CANCELLED",
            "DTSTART;VALUE=DATE:20270911\nSUMMARY:Sorrelhythe: Heron\nRRULE:FREQ=WEEKLY",
        ),
        fruit_kg="300",
    )

    assert called_off == ("aside", "called off in the calendar: “Sorrelhythe: Heron”")
    assert repeats[0] == "unclear"
    assert "Line 12: it repeats (RRULE). Write each outing out singly." in repeats[1]


# What is here already, and what is in the file twice


def test_what_is_here_stays_as_it_is_whatever_the_file_says(look, bring):
    bring(table({"reference": "paper 1"}))

    here, moved, unclear = look(
        table(
            {"reference": "paper 1"},
            {"reference": "paper 1", "back_on": "2027-09-14"},
            {"reference": "paper 1", "village": "x"},
        )
    )

    assert here == ("here", "Sorrelhythe, Sat 11 Sep to Mon 13 Sep, agreed.")
    assert moved[0] == unclear[0] == "here"
    assert "The file says otherwise. What is here stays as it is" in moved[1]


def test_a_row_twice_is_one_booking_and_a_reference_twice_is_none(look):
    rows = look(
        table(
            {},
            {},
            {"reference": "a", "out_on": "2027-09-18", "back_on": "2027-09-20"},
            {"reference": "a", "out_on": "2027-09-25", "back_on": "2027-09-27"},
        )
    )

    assert rows[0] == ("make", "")
    assert rows[1] == ("aside", "The same as row 2.")
    assert rows[3] == ("unclear", "It has the reference of row 4.")


# Days


def test_a_clash_with_a_booking_names_it(look, ask):
    ask()

    [(standing, words)] = look(table({"village": "Fennerlow", "out_on": "2027-09-12", "back_on": "2027-09-14"}))

    assert standing == "clash"
    assert words == "Heron mill: with Sorrelhythe from Sat 11 Sep to Mon 13 Sep."


def test_a_clash_with_cleaning_or_a_closed_day_says_so(look, ask, perpetua, depot, now, today):
    ask()
    closing.close_days(
        kind=ClosedKind.DEPOT,
        depot=depot,
        machines=[],
        first_day=date(2027, 9, 20),
        last_day=date(2027, 9, 20),
        reason="Roof repairs",
        by=perpetua,
        at=now,
        today=today,
    )

    cleaning, closed = look(
        table({"out_on": "2027-09-13", "back_on": "2027-09-15"}, {"out_on": "2027-09-19", "back_on": "2027-09-21"})
    )

    assert cleaning == ("clash", "Heron mill: cleaning and drying after Sorrelhythe, until Mon 13 Sep.")
    assert closed[1] == "Heron mill: closed Mon 20 Sep: Roof repairs."


def test_rows_that_clash_with_each_other_name_the_row(look):
    rows = look(
        table(
            {},
            {"village": "Fennerlow", "out_on": "2027-09-12", "back_on": "2027-09-14"},
            {"out_on": "2027-09-18", "back_on": "2027-09-20"},
            {"village": "Fennerlow", "out_on": "2027-09-20", "back_on": "2027-09-22"},
        )
    )

    assert rows[1] == ("clash", "Row 2 has Heron mill on Sun 12 Sep too.")
    assert rows[2] == (
        "clash",
        "Row 5 goes out on Mon 20 Sep, while the kit is cleaned and dried after this one.",
    )
    assert [rows[0][0], rows[3][0]] == ["make", "make"]


def test_the_nearest_free_days_leave_out_what_the_file_itself_would_take(sent, ask, scheme, today):
    ask()

    judged = bringing.look(
        sent(table({"village": "Fennerlow"}, {"out_on": "2027-09-08", "back_on": "2027-09-10"})),
        scheme=scheme,
        today=today,
    )

    assert judged.table.nearest(judged.verdicts[0]) == [september(14, 16), september(15, 17), september(16, 18)]


def test_a_machine_is_out_with_one_village_at_a_time(look, agreed, perpetua, now):
    bookings.mark_out(booking=agreed(period=september(1, 3)), by=perpetua, at=now)

    overdue = {"stage": "out", "out_on": "2027-08-28", "back_on": "2027-08-30"}
    [(standing, words)] = look(table(overdue | {"village": "Fennerlow"}))

    assert standing == "clash"
    assert "Heron mill is out with Sorrelhythe now." in words


def test_an_early_return_holds_no_day_that_is_still_to_come(bring):
    bring(table({"stage": "back", "out_on": "2027-08-30", "back_on": "2027-09-04"}))

    days = BookedDay.objects.filter(kind=DayKind.BOOKED).order_by("day").values_list("day", flat=True)
    assert list(days) == [date(2027, 8, 30), date(2027, 8, 31)]
    assert BookedDay.objects.get(kind=DayKind.CARE).day == date(2027, 9, 1)


def test_what_was_called_off_holds_no_day(look, bring):
    bring(table({"stage": "called off", "reason": "Frost", "reference": "a"}))

    assert look(table({"village": "Fennerlow"}))[0][0] == "make"
    assert Booking.objects.get().reason == "Frost"


# Times of day


def test_times_are_taken_as_given_else_as_the_scheme_has_them(bring):
    bring(table({"out_time": "14:30"}))

    assert (Booking.objects.get().out_time, Booking.objects.get().back_time) == (time(14, 30), time(9))


def test_who_collects_before_it_is_back_is_told(look, ask, heron):
    heron.care_days = 0
    heron.save()
    ask(back_time=time(12))

    first, second, third = look(
        table(
            {"village": "Fennerlow", "out_on": "2027-09-13", "back_on": "2027-09-15"},
            {"out_on": "2027-09-15", "back_on": "2027-09-17", "out_time": "08:00"},
            {"out_on": "2027-09-09", "back_on": "2027-09-11", "back_time": "11:00"},
        )
    )

    assert first[0] == second[0] == third[0] == "clash"
    assert "Sorrelhythe brings Heron mill back on Mon 13 Sep at 12:00. Collect at that time or later." in first[1]
    assert "Row 3 collects Heron mill on Wed 15 Sep at 08:00. Be back by that time or earlier." in first[1]
    assert "Row 2 brings Heron mill back on Wed 15 Sep at 09:00." in second[1]
    assert "Sorrelhythe collects Heron mill on Sat 11 Sep at 10:00." in third[1]


# Relays

FIRST = {"reference": "one", "back_time": "10:00"}
SECOND = {
    "village": "Fennerlow",
    "out_on": "2027-09-13",
    "back_on": "2027-09-15",
    "relay_from": "one",
    "carried_by": "Sunniva",
    "meet_at": "By the bridge",
}


def test_a_relay_is_made_with_its_two_bookings(bring):
    bring(table(FIRST, SECOND))

    relay = Relay.objects.with_bookings().get()
    assert (relay.first.village.name, relay.second.village.name) == ("Sorrelhythe", "Fennerlow")
    assert (relay.carried_by, relay.meet_at, relay.done_at) == ("Sunniva", "By the bridge", None)
    assert not BookedDay.objects.filter(kind=DayKind.CARE, booking=relay.first).exists()


def test_a_relay_that_is_over_is_history(bring):
    over = {"out_on": "2027-08-20", "back_on": "2027-08-22"}
    bring(table(FIRST | over, SECOND | {"out_on": "2027-08-22", "back_on": "2027-08-24"}))

    assert Relay.objects.get().done_at is not None


@pytest.mark.parametrize(
    ("first", "second", "why"),
    [
        ({}, {"relay_from": "two"}, "a booking that this file does not make"),
        ({}, {"out_on": "2027-09-14"}, "on the day on which that one is done"),
        ({}, {"machines": "Heron press"}, "the same machines"),
        ({"back_time": "09:00"}, {}, "both come at one time"),
        ({}, {"carried_by": ""}, "say who carries it and where they meet"),
        ({"stage": "called off"}, {}, "the two stages do not go together"),
    ],
)
def test_a_relay_that_does_not_fit_is_not_understood(look, first, second, why):
    rows = look(table(FIRST | first, SECOND | second))

    assert rows[1][0] == "unclear"
    assert why in rows[1][1]


def test_two_rows_do_not_take_over_from_one(look):
    rows = look(table(FIRST, SECOND, SECOND | {"village": "Sorrelhythe", "back_on": "2027-09-16"}))

    assert "Another row takes over from row 2 already." in rows[2][1]


def test_a_relay_goes_back_with_its_bookings(bring, perpetua, now):
    brought = bring(table(FIRST, SECOND))

    bringing.take_back(brought=brought, by=perpetua, at=now)

    assert not Booking.objects.exists()
    assert not Relay.objects.exists()


def test_a_relay_that_was_arranged_here_comes_back_in_a_copy(bring, agreed, perpetua, fennerlow, leilani, now, today):
    first = agreed()
    second = agreed(
        village=fennerlow, borrower=leilani, by=leilani, period=Period(start=date(2027, 9, 14), end=date(2027, 9, 16))
    )
    relays.arrange_relay(
        first=first,
        second=second,
        period=september(13, 15),
        carried_by="Leilani",
        meet_at="The bridge",
        meet_time=time(11),
        by=perpetua,
        at=now,
        today=today,
        first_revision=first.revision,
        revision=second.revision,
    )
    there = Booking.objects.with_people().order_by("out_on")
    data = copies.as_csv(there, Names()), copies.as_workbook(there, Names()), copies.as_calendar(there, Names())
    for each in data:
        Relay.objects.all().delete()
        Booking.objects.all().delete()
        bring(each)

        relay = Relay.objects.with_bookings().get()
        assert (relay.first.uid, relay.second.uid) == (first.uid, second.uid)
        assert (relay.first.back_time, relay.second.out_time) == (time(11), time(11))
        assert (relay.carried_by, relay.meet_at) == ("Leilani", "The bridge")
        assert relay.second.stage == Stage.AGREED


def test_nothing_is_made_where_one_row_is_not_understood(bring):
    with pytest.raises(NotAllFit):
        bring(table({}, {"village": "Zzz"}))

    assert not Booking.objects.exists()


def test_a_calendar_that_was_fetched_here_says_that_all_of_it_is_here(look, agreed, scheme, now):
    booking = agreed()
    feed = feeds.of_the_scheme(scheme)
    holding = feeds.look(feed, source="https://kit.example.org/a.ics", at=now)

    rows = look(b"".join(feeds.pieces(feed, holding, source="https://kit.example.org/a.ics", at=now)))

    assert ("here", "Sorrelhythe, Sat 11 Sep to Mon 13 Sep, agreed.") in rows
    assert {standing for standing, _words in rows} <= {"here", "aside"}
    assert booking.uid


def test_whoever_may_not_sign_in_any_more_signs_for_nothing_to_come(look, sunniva):
    sunniva.is_active = False
    sunniva.save()

    assert "Nobody signs for Sorrelhythe yet." in look(table({}))[0][1]
    assert "does not sign" in look(table({"borrower": "Sunniva Okparadine"}))[0][1]


def test_a_kit_that_was_fetched_on_the_eve_is_out(look):
    assert look(table({"stage": "out", "out_on": "2027-09-02", "back_on": "2027-09-04"}))[0][0] == "make"


def test_what_was_asked_and_is_over_must_say_what_became_of_it(look):
    over = {"out_on": "2027-08-20", "back_on": "2027-08-22"}

    asked, agreed = look(table(over | {"stage": "asked"}, over | {"stage": "agreed", "machines": "Otter mill"}))

    assert asked == (
        "unclear",
        "Asked, and its days are over: say what became of it, such as closed, declined or called off.",
    )
    assert agreed == ("make", "agreed, and its days are over: call it off later, or say here what became of it.")
