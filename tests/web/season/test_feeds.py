"""The calendar feeds over HTTP: to whom, what is in them, and "not modified" exactly while nothing has changed."""

import gzip
import tracemalloc
import uuid
from datetime import UTC, date, datetime, time, timedelta
from decimal import Decimal
from itertools import pairwise

import pytest
import vobject
from django.urls import reverse
from django.utils.http import parse_http_date

from kitshare.bookings import actions as bookings
from kitshare.bookings import relays
from kitshare.bookings.feeds import CANCELLED_SHOWN_FOR, LOOKS_BACK
from kitshare.bookings.models import Booking, Stage
from kitshare.kits import actions as kits
from kitshare.people import actions as people
from kitshare.people import feed_addresses
from kitshare.rules.checklists import Severity
from kitshare.rules.periods import Period
from kitshare.upkeep import actions as upkeep
from tests.readers import by_vobject, check_bytes, property_lines, spans

pytestmark = pytest.mark.django_db

ADDRESSES = {"Scheme": "feed_scheme", "Village": "feed_village", "Kit": "feed_kit", "Member": "feed_member"}


def address(owner) -> str:
    return reverse(f"season:{ADDRESSES[type(owner).__name__]}", args=[owner.feed_token])


def fetch(client, owner, **headers):
    return client.get(address(owner), headers=headers)


def events(answer) -> list:
    """The events of whole days, one a booking, as vobject reads them."""
    return [event for event in all_events(answer) if not isinstance(event.dtstart.value, datetime)]


def all_events(answer) -> list:
    """Handovers among them."""
    return list(getattr(vobject.readOne(answer.getvalue().decode()), "vevent_list", []))


# What it holds


def test_an_agreed_booking_says_what_stands_in_its_way_until_that_is_gone(
    client, scheme, agreed, mill, plan_care, record_care, teodor, now, clock
):
    def said():
        [event] = events(fetch(client, scheme))
        return [line for line in event.description.value.splitlines() if line.startswith("At risk.")]

    assert agreed.out_on == date(2027, 9, 11)
    plan = plan_care(due_on=date(2027, 9, 11))
    assert said() == []  # due on the day itself: it is overdue from the next
    plan_care(name="Trip switch", due_on=date(2027, 9, 10))
    fault = upkeep.report_fault(
        machine=mill, part=None, note="Nicked by a stone", severity=Severity.STOPS_USE, by=teodor, at=now
    )
    assert said() == [
        "At risk. Set aside until mended and released: Heron mill.",
        "At risk. A safety test comes first: Heron mill.",
    ]

    fault = upkeep.mend_fault(fault=fault, note="Ground.", by=teodor, at=now, revision=fault.revision)
    upkeep.release_fault(fault=fault, retest_note="Ran it.", by=teodor, at=now, revision=fault.revision)
    record_care(plan.machine.care_plans.get(name="Trip switch"))

    assert said() == []


def test_an_agreed_booking_is_an_event_of_whole_days_with_an_exclusive_end(client, scheme, agreed, clock):
    [event] = events(fetch(client, scheme))

    assert event.dtstart.value == date(2027, 9, 11)
    assert event.dtend.value == date(2027, 9, 13)
    assert event.summary.value == "Sorrelhythe: Heron"
    assert event.uid.value == f"{agreed.uid}@kitshare"
    assert event.dtstamp.value == datetime(2027, 9, 1, 9, 30, tzinfo=UTC)
    assert event.status.value == "CONFIRMED"
    assert "back on Mon 13 Sep at 09:00" in event.description.value


def test_an_asked_booking_is_in_no_feed(client, scheme, booking, clock):
    assert events(fetch(client, scheme)) == []


def test_the_uid_stays_and_the_sequence_rises_when_the_days_change(
    client, scheme, agreed, perpetua, now, today, mill, press, clock
):
    [before] = events(fetch(client, scheme))

    bookings.change_booking(
        booking=agreed,
        machines=[mill, press],
        period=agreed.period.shifted(7),
        fruit_amount=agreed.fruit_amount,
        fruit_unit=agreed.fruit_unit,
        note="",
        by=perpetua,
        at=now + timedelta(minutes=5),
        today=today,
        revision=agreed.revision,
    )
    [after] = events(fetch(client, scheme))

    assert after.uid.value == before.uid.value
    assert int(after.sequence.value) > int(before.sequence.value)
    assert after.dtstart.value == date(2027, 9, 18)


def test_a_called_off_booking_is_marked_cancelled_for_fourteen_days(client, scheme, agreed, perpetua, now, clock):
    bookings.call_off(booking=agreed, reason="Flood.", by=perpetua, at=now, revision=agreed.revision)

    [event] = events(fetch(client, scheme))
    clock.at = now + CANCELLED_SHOWN_FOR + timedelta(seconds=1)

    assert event.status.value == "CANCELLED"
    assert events(fetch(client, scheme)) == []


def test_a_village_feed_and_a_kit_feed_hold_only_their_own(client, agreed, sorrelhythe, fennerlow, heron, otter, clock):
    held = {owner.name: len(events(fetch(client, owner))) for owner in (sorrelhythe, fennerlow, heron, otter)}

    assert held == {"Sorrelhythe": 1, "Fennerlow": 0, "Heron": 1, "Otter": 0}


def test_a_member_has_the_bookings_they_may_see(
    client, agreed, sunniva, leilani, fennerlow, perpetua, teodor, clock, now
):
    held = {member.name: len(events(fetch(client, member))) for member in (sunniva, leilani, perpetua, teodor)}

    assert held == {"Sunniva Okparadine": 1, "Leilani Crabbwater": 0, "Perpetua Quillstone": 1, "Teodor Haskerby": 1}


def test_a_feed_says_what_it_is_called_where_it_comes_from_and_how_often_to_ask(client, agreed, heron, clock, settings):
    """RFC 7986, 5.1, 5.7 to 5.9."""
    settings.SITE_ADDRESS = "https://kit.example.org/"

    text = fetch(client, heron).getvalue()

    assert property_lines(text, "NAME") == ["NAME:Heron"]
    assert property_lines(text, "X-WR-CALNAME") == ["X-WR-CALNAME:Heron"]
    assert property_lines(text, "COLOR") == ["COLOR:crimson"] * 4
    assert property_lines(text, "REFRESH-INTERVAL") == ["REFRESH-INTERVAL;VALUE=DURATION:PT2H"]
    assert property_lines(text, "SOURCE") == [f"SOURCE;VALUE=URI:https://kit.example.org{address(heron)}"]
    assert property_lines(text, "METHOD") == []


def test_a_feed_holds_no_telephone_number(client, scheme, agreed, clock):
    text = fetch(client, scheme).getvalue().decode()

    assert scheme.telephone.replace(" ", "") not in text.replace(" ", "")


def test_a_feed_of_nothing_is_still_a_calendar(client, scheme, clock):
    answer = fetch(client, scheme)

    assert answer["Content-Type"] == "text/calendar; charset=utf-8"
    assert answer["Content-Disposition"] == 'inline; filename="linnow-vale-pressing-share.ics"'
    assert events(answer) == []


@pytest.mark.parametrize(
    ("zone", "offset"), [("UTC", 0), ("Europe/Berlin", 2), ("America/St_Johns", -2.5), ("Pacific/Chatham", 12.75)]
)
def test_handovers_are_moments_in_utc_with_the_local_time_in_words(client, scheme, agreed, clock, zone, offset):
    scheme.time_zone = zone
    scheme.save()

    timed = [event for event in all_events(fetch(client, scheme)) if isinstance(event.dtstart.value, datetime)]

    local = [datetime(2027, 9, 11, 10, tzinfo=UTC), datetime(2027, 9, 13, 9, tzinfo=UTC)]
    assert [event.dtstart.value for event in timed] == [moment - timedelta(hours=offset) for moment in local]
    assert [event.uid.value for event in timed] == [f"{agreed.uid}-out@kitshare", f"{agreed.uid}-back@kitshare"]
    assert [event.summary.value for event in timed] == ["Sorrelhythe collects Heron", "Sorrelhythe brings Heron back"]
    assert "On Sat 11 Sep at 10:00, by the clock there." in timed[0].description.value
    assert {event.transp.value for event in timed} == {"OPAQUE"}


def test_handovers_that_are_over_or_far_away_leave_the_days_alone(client, scheme, agreed, clock, now):
    clock.at = now + timedelta(days=60)
    over = all_events(fetch(client, scheme))
    clock.at = now - timedelta(days=300)
    far = all_events(fetch(client, scheme))

    assert [len(over), len(far)] == [1, 1]


def test_a_relay_stands_at_both_ends_with_its_place(
    client, scheme, agreed, perpetua, leilani, fennerlow, now, today, clock
):
    asked = {"village": fennerlow, "borrower": leilani, "machines": list(agreed.machines.all()), "note": ""}
    fruit = {"fruit_amount": Decimal(300), "fruit_unit": "kg"}
    days = {"period": Period(start=date(2027, 9, 14), end=date(2027, 9, 16))}
    second = bookings.book_kit(**asked, **fruit, **days, by=leilani, at=now, today=today)
    relays.arrange_relay(
        first=agreed,
        second=second,
        period=Period(start=agreed.back_on, end=date(2027, 9, 16)),
        carried_by="Fennerlow",
        meet_at="Barn; by the standpipe",
        meet_time=time(8),
        by=perpetua,
        at=now,
        today=today,
        first_revision=agreed.revision,
        revision=second.revision,
    )
    before = fetch(client, agreed.village)
    met = {event.uid.value: event for event in all_events(fetch(client, scheme))}
    fennerlow.name = "Fennerlow Marsh"
    fennerlow.save()

    handed, taken = met[f"{agreed.uid}-back@kitshare"], met[f"{second.uid}-out@kitshare"]
    assert handed.summary.value == "Relay: Sorrelhythe hands Heron on to Fennerlow"
    assert taken.summary.value == "Relay: Fennerlow takes Heron on from Sorrelhythe"
    assert handed.dtstart.value == taken.dtstart.value == datetime(2027, 9, 13, 8, tzinfo=UTC)
    assert handed.location.value == taken.location.value == "Barn; by the standpipe"
    assert fetch(client, agreed.village, if_none_match=before["ETag"]).status_code == 200


# Its address


@pytest.mark.parametrize("owner", ["scheme", "sorrelhythe", "heron", "sunniva"])
def test_an_address_renewed_or_taken_away_closes_the_old_one(client, request, owner, perpetua, now, agreed, clock):
    owner = request.getfixturevalue(owner)
    first = address(owner)

    feed_addresses.renew_feed_token(of=owner, by=perpetua, at=now)
    second = address(owner)
    answers = [client.get(first).status_code, client.get(second).status_code]
    feed_addresses.revoke_feed_token(of=owner, by=perpetua, at=now)
    owner.refresh_from_db()

    assert answers == [404, 200]
    assert owner.feed_token is None
    assert client.get(second).status_code == 404
    assert client.get(second.replace(second.split("/")[-1], "None.ics")).status_code == 404


def test_a_member_whose_account_is_closed_has_no_feed(client, agreed, sunniva, clock):
    sunniva.is_active = False
    sunniva.save()

    assert fetch(client, sunniva).status_code == 404


@pytest.mark.parametrize("method", ["post", "put", "delete"])
def test_a_feed_can_only_be_read(client, scheme, method, clock):
    assert getattr(client, method)(address(scheme)).status_code == 405


# Not modified


def test_the_same_bookings_give_the_same_bytes_and_a_304(client, scheme, agreed, clock):
    first = fetch(client, scheme)
    clock.at += timedelta(hours=5)
    second = fetch(client, scheme)
    by_etag = fetch(client, scheme, if_none_match=first["ETag"])
    by_date = fetch(client, scheme, if_modified_since=first["Last-Modified"])

    assert second.getvalue() == first.getvalue()
    assert (by_etag.status_code, by_date.status_code) == (304, 304)
    assert by_etag["ETag"] == first["ETag"]
    assert by_etag.content == b""
    assert first["Cache-Control"] == by_etag["Cache-Control"] == "private, no-cache"


def rename_village(*, sorrelhythe, perpetua, now, **_others):
    people.change_village(village=sorrelhythe, name="Sorrelhythe Bridge", note="", borrowers=[], by=perpetua, at=now)


def rename_machine(*, mill, perpetua, now, **_others):
    kits.change_machine(machine=mill, by=perpetua, at=now, name="Heron big mill")


def rename_kit(*, heron, perpetua, now, **_others):
    kits.change_kit(kit=heron, by=perpetua, at=now, name="Grey Heron")


def paint_kit(*, heron, perpetua, now, **_others):
    kits.change_kit(kit=heron, by=perpetua, at=now, shape="wedge")


def call_off(*, agreed, perpetua, now, **_others):
    bookings.call_off(booking=agreed, reason="", by=perpetua, at=now, revision=agreed.revision)


def wait_until_it_is_old(*, clock, agreed, **_others):
    clock.at = datetime.combine(agreed.back_on, clock.at.timetz()) + LOOKS_BACK + timedelta(days=1)


def meet_later(*, agreed, perpetua, mill, press, now, today, **_others):
    facts = {name: getattr(agreed, name) for name in ("period", "fruit_amount", "fruit_unit", "note", "revision")}
    meets = {"out_time": time(12), "machines": [mill, press]}
    bookings.change_booking(booking=agreed, **facts, **meets, by=perpetua, at=now, today=today)


def change_the_zone(*, scheme, **_others):
    scheme.time_zone = "Europe/Berlin"
    scheme.save()


def move_the_site(*, settings, **_others):
    settings.SITE_ADDRESS = "https://elsewhere.example.org"


def break_the_mill(*, mill, teodor, now, **_others):
    upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=now)


def plan_a_test(*, plan_care, **_others):
    plan_care(due_on=date(2027, 9, 3))


@pytest.mark.parametrize(
    "happens",
    [
        break_the_mill,
        plan_a_test,
        rename_village,
        rename_machine,
        rename_kit,
        paint_kit,
        call_off,
        wait_until_it_is_old,
        meet_later,
        change_the_zone,
        move_the_site,
    ],
)
def test_whatever_changes_the_text_ends_the_304_by_etag_and_by_date(
    client,
    happens,
    scheme,
    agreed,
    sorrelhythe,
    mill,
    press,
    heron,
    perpetua,
    teodor,
    plan_care,
    now,
    today,
    clock,
    settings,
):
    world = {"teodor": teodor, "plan_care": plan_care}
    world |= {"agreed": agreed, "sorrelhythe": sorrelhythe, "mill": mill, "heron": heron, "perpetua": perpetua}
    world |= {"scheme": scheme, "press": press, "today": today}
    before = fetch(client, scheme)
    text = before.getvalue()  # it is made while it is read

    happens(**world, now=now, clock=clock, settings=settings)
    clock.at += timedelta(seconds=10)
    by_etag = fetch(client, scheme, if_none_match=before["ETag"])
    by_date = fetch(client, scheme, if_modified_since=before["Last-Modified"])

    assert by_etag.getvalue() != text
    assert (by_etag.status_code, by_date.status_code) == (200, 200)
    assert parse_http_date(by_date["Last-Modified"]) > parse_http_date(before["Last-Modified"])


def test_the_end_of_the_fourteen_days_ends_the_304_too(client, scheme, agreed, perpetua, now, clock):
    bookings.call_off(booking=agreed, reason="", by=perpetua, at=now, revision=agreed.revision)
    clock.at = now + CANCELLED_SHOWN_FOR
    last_day = fetch(client, scheme)

    still = fetch(client, scheme, if_none_match=last_day["ETag"])
    clock.at += timedelta(seconds=1)
    over = [
        fetch(client, scheme, if_none_match=last_day["ETag"]),
        fetch(client, scheme, if_modified_since=last_day["Last-Modified"]),
    ]

    assert still.status_code == 304
    assert [answer.status_code for answer in over] == [200, 200]
    assert [events(answer) for answer in over] == [[], []]


def test_two_changes_within_a_second_are_told_apart_without_a_date_in_the_future(client, scheme, agreed, heron, clock):
    """RFC 9110, 8.8.2.1: HTTP dates have whole seconds, and Last-Modified is never later than the answer."""
    answers = []
    for name in ("Heron", "Grey heron", "Night heron"):
        heron.name = name
        heron.save()
        answers.append(fetch(client, scheme))
    at_once = fetch(client, scheme, if_modified_since=answers[0]["Last-Modified"])
    clock.at += timedelta(seconds=5)
    later = fetch(client, scheme, if_modified_since=answers[0]["Last-Modified"])

    assert len({answer["ETag"] for answer in answers}) == 3
    assert [answer.has_header("Last-Modified") for answer in answers] == [True, False, False]
    assert [at_once.status_code, later.status_code] == [200, 200]


def test_another_kit_leaves_the_feed_of_a_village_as_it_was(client, sorrelhythe, agreed, otter, clock):
    before = fetch(client, sorrelhythe).getvalue()
    otter.name = "Big otter"
    otter.save()

    assert fetch(client, sorrelhythe).getvalue() == before


# How it travels


def test_a_feed_is_squeezed_for_whoever_can_read_that(client, scheme, agreed, clock):
    plain = fetch(client, scheme)
    squeezed = fetch(client, scheme, accept_encoding="gzip")
    again = fetch(client, scheme, accept_encoding="gzip", if_none_match=squeezed["ETag"])

    assert not plain.has_header("Content-Encoding")
    assert squeezed["Content-Encoding"] == "gzip"
    assert gzip.decompress(squeezed.getvalue()) == plain.getvalue()
    assert "Accept-Encoding" in plain["Vary"]
    assert again.status_code == 304


def test_only_the_head_is_answered_to_who_asks_for_it(client, scheme, agreed, clock):
    whole = fetch(client, scheme)

    head = client.head(address(scheme))

    assert head.getvalue() == b""
    assert head["ETag"] == whole["ETag"]
    assert head["Last-Modified"] == whole["Last-Modified"]


def book_many(number: int, *, village, borrower, machine, now) -> None:
    rows = [
        Booking(
            uid=uuid.uuid4(),
            village=village,
            borrower=borrower,
            stage=Stage.AGREED,
            out_on=date(2027, 9, 4) + timedelta(days=2 * count),
            back_on=date(2027, 9, 5) + timedelta(days=2 * count),
            fruit_amount=Decimal(100),
            fruit_kg=Decimal(100),
            asked_at=now,
            changed_at=now,
        )
        for count in range(number)
    ]
    made = Booking.objects.bulk_create(rows, batch_size=500)
    through = Booking.machines.through
    through.objects.bulk_create([through(booking=one, machine=machine) for one in made], batch_size=500)


@pytest.mark.parametrize("many", [1, 12, 100])
def test_a_feed_takes_the_same_queries_however_many_bookings(
    many, client, scheme, season, sorrelhythe, sunniva, mill, now, clock, django_assert_num_queries
):
    book_many(many, village=sorrelhythe, borrower=sunniva, machine=mill, now=now)
    etag = fetch(client, scheme)["ETag"]

    # The site's scheme, the owner, the zone, the machines' names, the relays' villages, what stops machines and the next
    # tests, the keys, since when; then the zone once more, the bookings and their machines.
    with django_assert_num_queries(12):
        assert len(events(fetch(client, scheme))) == many
    with django_assert_num_queries(9):
        assert fetch(client, scheme, if_none_match=etag).status_code == 304


@pytest.mark.one_engine
@pytest.mark.no_cover
def test_a_feed_four_times_as_long_is_never_all_in_memory(
    client, scheme, season, sorrelhythe, sunniva, mill, now, clock
):
    """Ten thousand bookings take no more than these do: a hundred are read and written at a time."""
    fetch(client, scheme).getvalue()  # whatever is loaded once is loaded now
    measured = []

    for more in (300, 900):
        book_many(more, village=sorrelhythe, borrower=sunniva, machine=mill, now=now)
        tracemalloc.start()
        pieces = [len(piece) for piece in fetch(client, scheme)]
        _now, peak = tracemalloc.get_traced_memory()
        tracemalloc.stop()
        measured.append((peak, sum(pieces), len(pieces)))

    [(short_peak, short, _few), (long_peak, long, many)] = measured
    assert long > 3 * short
    assert many > 12
    assert long_peak < 2 * short_peak, measured


def test_a_feed_in_many_pieces_is_one_calendar_in_order(client, scheme, season, sorrelhythe, sunniva, mill, now, clock):
    book_many(600, village=sorrelhythe, borrower=sunniva, machine=mill, now=now)

    text = fetch(client, scheme).getvalue()

    check_bytes(text)
    starts = [line for line in property_lines(text, "DTSTART") if "VALUE=DATE" in line]
    assert len(spans(by_vobject(text))) == len(starts) == 600
    assert all(earlier < later for earlier, later in pairwise(starts))


def test_a_booking_that_leaves_the_feed_while_it_is_written_is_left_out(
    client, scheme, season, sorrelhythe, sunniva, mill, now, clock
):
    book_many(600, village=sorrelhythe, borrower=sunniva, machine=mill, now=now)
    answer = iter(fetch(client, scheme))
    begun = [next(answer), next(answer)]
    Booking.objects.update(stage=Stage.DECLINED)

    text = b"".join([*begun, *answer])

    check_bytes(text)
    assert len(spans(by_vobject(text))) == 100
