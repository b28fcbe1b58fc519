"""The upkeep calendar over HTTP: what is in it, to whom, and "not modified" exactly while nothing has changed."""

import gzip
from datetime import UTC, date, datetime, timedelta

import pytest
import vobject
from django.urls import reverse
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from kitshare.bookings import care_feed
from kitshare.kits import actions as kits
from kitshare.people import feed_addresses
from kitshare.upkeep import care
from kitshare.upkeep.care_models import UpkeepCalendar
from tests.readers import by_vobject, check_bytes, property_lines

pytestmark = pytest.mark.django_db

DUE = date(2027, 9, 10)


@pytest.fixture
def calendar(scheme, perpetua, now) -> UpkeepCalendar:
    """The upkeep calendar, with an address."""
    row = care.have_calendar()
    feed_addresses.renew_feed_token(of=row, by=perpetua, at=now)
    return row


@pytest.fixture
def fetch(client, calendar, clock):
    def fetch_it(**headers):
        return client.get(reverse("season:feed_upkeep", args=[calendar.feed_token]), headers=headers)

    return fetch_it


def events(answer) -> list:
    return list(getattr(vobject.readOne(answer.getvalue().decode()), "vevent_list", []))


# What it holds


def test_a_test_is_a_whole_day_on_its_due_day_that_keeps_nobody_busy(fetch, plan_care):
    plan = plan_care()

    [event] = events(fetch())

    assert (event.dtstart.value, event.dtend.value) == (DUE, DUE + timedelta(days=1))
    assert event.summary.value == "Heron mill: Electrical test"
    assert event.uid.value == f"{plan.key}@kitshare"
    assert (event.transp.value, event.status.value, event.sequence.value) == ("TRANSPARENT", "CONFIRMED", "0")
    assert event.dtstamp.value == datetime(2027, 9, 1, 9, 30, tzinfo=UTC)
    assert "nobody hands the machine over" in event.description.value


def test_days_are_written_as_days_and_the_calendar_says_of_itself_what_rfc_7986_knows(fetch, plan_care):
    plan_care()

    text = fetch().getvalue()

    assert property_lines(text, "DTSTART") == ["DTSTART;VALUE=DATE:20270910"]
    assert property_lines(text, "DTEND") == ["DTEND;VALUE=DATE:20270911"]
    assert property_lines(text, "NAME") == ["NAME:Linnow Vale Pressing Share: services and safety tests"]
    assert property_lines(text, "REFRESH-INTERVAL") == ["REFRESH-INTERVAL;VALUE=DURATION:PT2H"]
    assert property_lines(text, "SOURCE")[0].startswith("SOURCE;VALUE=URI:http")
    assert set(property_lines(text, "COLOR")) == {"COLOR:seagreen", "COLOR:crimson"}


def test_when_it_is_done_the_same_event_moves_with_a_higher_sequence(fetch, plan_care, record_care):
    plan = plan_care()
    [before] = events(fetch())

    record_care(plan)
    [after] = events(fetch())

    assert after.uid.value == before.uid.value
    assert after.dtstart.value == date(2028, 9, 1)
    assert int(after.sequence.value) > int(before.sequence.value)


def test_a_day_moved_by_hand_raises_the_sequence_and_another_name_does_not(fetch, plan_care, teodor, now):
    plan = plan_care()
    facts = {"kind": "electrical", "name": "Yearly", "every": 12, "unit": "months", "who": "", "caution": ""}

    care.change_plan(plan=plan, **facts, due_on=DUE, by=teodor, at=now)
    [renamed] = events(fetch())
    care.change_plan(plan=plan, **facts, due_on=date(2027, 10, 1), reason="The tester comes.", by=teodor, at=now)
    [moved] = events(fetch())

    assert (renamed.sequence.value, moved.sequence.value) == ("0", "1")


def test_what_is_overdue_says_so_and_stays_on_its_due_day(fetch, plan_care, clock):
    plan_care()

    clock.at = datetime(2027, 9, 11, 0, 1, tzinfo=UTC)
    [event] = events(fetch())

    assert event.summary.value == "Overdue: Heron mill: Electrical test"
    assert event.dtstart.value == DUE
    assert "Due since Fri 10 Sep 2027 and not recorded as done." in event.description.value
    assert event.dtstamp.value == datetime(2027, 9, 11, tzinfo=UTC)


def test_an_ended_plan_is_struck_for_a_fortnight_and_then_gone(fetch, plan_care, teodor, now, today, clock):
    care.end_plan(plan=plan_care(), reason="Sold.", by=teodor, at=now, today=today)

    clock.at = now + timedelta(days=13)
    [struck] = events(fetch())
    clock.at = now + timedelta(days=14)

    assert (struck.status.value, struck.sequence.value) == ("CANCELLED", "1")
    assert events(fetch()) == []


def test_a_retired_machine_has_nothing_due(fetch, plan_care, mill, perpetua, now, today):
    plan_care()
    kits.retire_machine(machine=mill, reason="", by=perpetua, at=now, today=today)

    assert events(fetch()) == []


def test_no_telephone_number_is_in_it_not_even_one_typed_with_who_may_do_it(fetch, plan_care):
    plan_care(who="Ring 01632 960 999", caution="Ring 01632 960 998 first")

    assert "01632" not in fetch().getvalue().decode()


# What others read


# node-ical takes an escaped backslash followed by an n for an end of line; none of these has the pair.
HOSTILE = [
    "Comma, semicolon; back\\slash",
    "BEGIN:VEVENT\r\nSUMMARY:not this",
    "Tŷ-Ferrow \u2028 \x0b kettle's \U0001f34e " + "long " * 8,
    "\N{RIGHT-TO-LEFT OVERRIDE}abc\tdef",
]


def test_every_reader_reads_the_same_events(fetch, plan_care, machines_of_every_kit, by_node):
    for machine, name in zip(machines_of_every_kit, HOSTILE, strict=True):
        plan_care(machine=machine, name=name)

    text = fetch().getvalue()

    check_bytes(text)
    read = by_node([text])
    expected = by_vobject(text)
    assert len(expected) == 4
    for name, found in read.items():
        assert (name, found) == (name, [expected])
    assert {event.start for event in expected} == {"2027-09-10"}


def test_the_reference_library_has_nothing_to_complain_of(fetch, plan_care, machines_of_every_kit, libical):
    for machine, name in zip(machines_of_every_kit, HOSTILE, strict=True):
        plan_care(machine=machine, name=name)
    text = fetch().getvalue()

    method = b"METHOD:PUBLISH\r\nVERSION:2.0"
    asked = text.replace(b"VERSION:2.0", method, 1).replace(
        b"\r\nBEGIN:VEVENT\r\n", b"\r\nBEGIN:VEVENT\r\nORGANIZER:mailto:x@example.org\r\n"
    )
    assert libical.complaints(asked) == []


@pytest.fixture
def machines_of_every_kit(mill, press, pasteuriser, otter_mill):
    return [mill, press, pasteuriser, otter_mill]


@given(name=st.text(min_size=1, max_size=80), machine_name=st.text(min_size=1, max_size=60))
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
def test_whatever_people_call_it_one_line_of_it_comes_back(plan_care_once, name, machine_name):
    plan, zone = plan_care_once
    plan.name, plan.machine.name = name, machine_name

    entry = care_feed.event(plan, today=date(2027, 9, 1), zone=zone)
    calendar = f"BEGIN:VCALENDAR\r\nVERSION:2.0\r\nPRODID:x\r\n{entry.to_ical().decode()}END:VCALENDAR\r\n".encode()

    check_bytes(calendar)
    [event] = by_vobject(calendar)
    assert event.summary == care_feed.calendars.one_line(f"{machine_name}: {name}")


@pytest.fixture
def plan_care_once(plan_care, scheme):
    return plan_care(), scheme.zone


# To whom


def test_nobody_without_the_address_gets_it_and_the_old_one_shows_nothing_more(client, calendar, perpetua, now):
    old = calendar.feed_token
    new = feed_addresses.renew_feed_token(of=calendar, by=perpetua, at=now)

    answers = [client.get(reverse("season:feed_upkeep", args=[token])).status_code for token in (old, new, "0" * 32)]
    feed_addresses.revoke_feed_token(of=calendar, by=perpetua, at=now)

    assert answers == [404, 200, 404]
    assert client.get(reverse("season:feed_upkeep", args=[new])).status_code == 404


def test_the_address_stands_where_the_list_of_what_is_due_stands_and_is_changed_there(signed_in, teodor, scheme):
    browser = signed_in(teodor)
    before = browser.get(reverse("upkeep:due")).content.decode()

    browser.post(reverse("upkeep:due_feed"))
    given = UpkeepCalendar.objects.get().feed_token
    shown = browser.get(reverse("upkeep:due")).content.decode()
    own = browser.get(reverse("people:me")).content.decode()
    browser.post(reverse("upkeep:due_feed"), {"deed": "take-away"})

    assert "Give it an address" in before
    assert reverse("season:feed_upkeep", args=[given]) in shown
    assert reverse("season:feed_upkeep", args=[given]) in own
    assert UpkeepCalendar.objects.get().feed_token is None


def test_a_borrower_neither_sees_nor_changes_the_address(signed_in, sunniva, calendar):
    browser = signed_in(sunniva)

    assert calendar.feed_token not in browser.get(reverse("people:me")).content.decode()
    assert browser.post(reverse("upkeep:due_feed")).status_code == 403


# Not modified


def test_it_is_private_and_not_modified_exactly_while_nothing_changes(fetch, plan_care, record_care, clock, now):
    plan = plan_care()
    first = fetch()
    same = fetch(if_none_match=first["ETag"])
    by_date = fetch(if_modified_since=first["Last-Modified"])

    clock.at = now + timedelta(minutes=1)
    record_care(plan)
    after = fetch(if_none_match=first["ETag"], if_modified_since=first["Last-Modified"])

    assert first["Cache-Control"] == "private, no-cache"
    assert (same.status_code, by_date.status_code, after.status_code) == (304, 304, 200)
    assert after["ETag"] != first["ETag"]


@pytest.mark.parametrize("change", ["scheme", "machine", "kit", "day"])
def test_a_new_name_and_a_day_that_passes_change_it_too(
    fetch, plan_care, change, scheme, mill, heron, perpetua, now, clock
):
    plan_care()
    before = fetch()["ETag"]

    if change == "scheme":
        type(scheme).objects.update(name="Another name")
    elif change == "machine":
        kits.change_machine(machine=mill, name="Big mill", by=perpetua, at=now)
    elif change == "kit":
        kits.change_kit(kit=heron, name="Egret", by=perpetua, at=now)
    else:
        clock.at = datetime(2027, 9, 11, 0, 1, tzinfo=UTC)

    assert fetch(if_none_match=before).status_code == 200


def test_it_is_squeezed_for_those_who_take_it_so(fetch, plan_care):
    for number in range(9):
        plan_care(name=f"Test {number}")

    answer = fetch(accept_encoding="gzip")

    assert answer["Content-Encoding"] == "gzip"
    assert gzip.decompress(answer.getvalue()).startswith(b"BEGIN:VCALENDAR")


@pytest.mark.parametrize("many", [1, 12])
def test_it_costs_the_same_however_much_is_due(fetch, plan_care, many, django_assert_num_queries):
    for number in range(many):
        plan_care(name=f"Test {number}")
    held = fetch()["ETag"]

    with django_assert_num_queries(5):  # scheme, calendar, the look, since when, the events
        assert len(events(fetch())) == many
    with django_assert_num_queries(4):
        assert fetch(if_none_match=held).status_code == 304


def test_more_than_a_stretch_of_events_comes_whole_and_in_order(calendar, scheme, plan_care, monkeypatch, now):
    monkeypatch.setattr(care_feed, "AT_ONCE", 2)
    for number in range(5):
        plan_care(name=f"Test {number}", due_on=DUE + timedelta(days=number))
    feed = care_feed.of_the_upkeep(calendar, scheme=scheme)

    text = b"".join(care_feed.pieces(feed, care_feed.look(feed, source="x", at=now), source="x", at=now))

    assert property_lines(text, "DTSTART") == [f"DTSTART;VALUE=DATE:202709{day}" for day in range(10, 15)]
