"""What the kinds of reminder that a scheme switches on tell: to whom, once, in which words, and when it is over."""

from datetime import timedelta
from decimal import Decimal

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitshare.bookings import actions as bookings
from kitshare.bookings import briefing
from kitshare.outbox.models import Message
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.planning import ahead_of
from kitshare.pressdays.wanted import Part, Wanted
from kitshare.reminders import actions as reminders
from kitshare.reminders import policy
from kitshare.reminders.models import ReminderRow
from kitshare.rules.containers import Use
from kitshare.upkeep import season_tasks
from tests.checks.conftest import all_sound, hand_on, on_the_day, parts, pick_up, relay
from tests.checks.sheets import signed
from tests.reminders.conftest import on

__all__ = ["all_sound", "hand_on", "on_the_day", "parts", "pick_up", "relay"]
pytestmark = pytest.mark.django_db


@pytest.fixture
def only(scheme, perpetua, now):
    """Of the usual rows only one is on, besides those of safety: `only("bring-3")`."""

    def only(usual: str) -> ReminderRow:
        policy.settle_usual(at=now)
        for row in ReminderRow.objects.on():
            if not row.stays_on:
                policy.switch_row(row=row, is_on=False, by=perpetua, at=now)
        return policy.switch_row(row=ReminderRow.objects.get(usual=usual), is_on=True, by=perpetua, at=now)

    return only


def told(usual: str) -> list[str]:
    found = Message.objects.filter(key__startswith=f"reminder:{usual}:").order_by("pk")
    return list(found.values_list("to_name", flat=True))


def body(usual: str, to: str = "") -> str:
    return Message.objects.filter(key__startswith=f"reminder:{usual}:", to_name__startswith=to).first().body


def rounds(*moments) -> list[int]:
    return [reminders.write_due_reminders(at=at) for at in moments]


def test_where_when_and_what_to_bring_names_the_containers_of_the_plan(only, agreed, scheme, sunniva, now, settings):
    settings.SITE_ADDRESS = "https://kit.example.org"
    only("bring-3")
    bottle = ContainerKind.objects.create(name="Litre bottle", litres=Decimal(1), material="glass", reused_glass=True)
    parts = (Part(use=Use.HEATED, kind=bottle, percent=100),)
    pressdays.save_plan(booking=agreed, wanted=Wanted(parts=parts, at_hand={}), by=sunniva, at=now)

    assert rounds(on(8, 6, 59), on(8, 7), on(9, 9)) == [0, 1, 0]

    words = body("bring-3")
    assert "goes out on Sat 11 Sep at 10:00" in " ".join(words.split()).replace(" 2027", "")
    assert "Where: Old Goods Shed, Withyhurn" in words
    [bring] = ahead_of(agreed, scheme=scheme).to_bring
    assert bring.number > 200
    assert f"- {bring.number} × Litre bottle ({bring.spares} of them in case of breakage)" in words
    assert "press cloths:" in words
    assert f"https://kit.example.org/press-days/{agreed.pk}/plan/" in words
    assert "01632 960 123" in words
    assert "tomorrow" not in words.lower()


def test_without_a_plan_the_letter_says_so_and_names_no_number(only, agreed):
    only("bring-3")

    rounds(on(8))

    assert "Nobody has planned the press day yet" in body("bring-3")
    assert "×" not in body("bring-3")


def test_a_briefing_that_is_not_read_is_asked_for_once_until_it_is_confirmed(only, agreed, sunniva, season, now):
    only("briefing-7")

    assert rounds(on(4, 6), on(4, 7), on(5)) == [0, 1, 0]
    assert told("briefing-7") == ["Sunniva Okparadine"]
    assert "You have not confirmed the briefing for Autumn 2027 yet." in body("briefing-7")
    assert "/briefing/" in body("briefing-7")

    Message.objects.all().delete()
    words = briefing.words_in_force()
    briefing.confirm_briefing(
        member=sunniva,
        season=season,
        points=[point.key for point in words.points],
        version=words.version,
        by=sunniva,
        at=now,
    )
    assert rounds(on(6)) == [0]


def test_a_clean_down_is_owed_from_the_relay_until_the_booking_is_closed(only, hand_on, relay, perpetua, on_the_day):
    only("clean-down-1")
    hand_on(signature=signed(taken_name="Leilani Crabbwater", is_clean=False))
    Message.objects.all().delete()

    assert rounds(on(4, 12), on(5, 7), on(6)) == [0, 2, 0]
    assert told("clean-down-1") == ["Sunniva Okparadine", "Perpetua Quillstone"]
    assert "before it was cleaned down. That is owed." in body("clean-down-1")
    assert "Leilani Crabbwater, telephone 01632 960 200" in body("clean-down-1", "Sunniva")
    assert "close the booking" in body("clean-down-1", "Perpetua")

    Message.objects.all().delete()
    relay.first.refresh_from_db()
    bookings.close(booking=relay.first, by=perpetua, at=on(6))
    assert rounds(on(7)) == [0]


def test_nothing_is_owed_where_the_relay_check_says_clean(only, hand_on):
    only("clean-down-1")
    hand_on()
    Message.objects.all().delete()

    assert rounds(on(5), on(6)) == [0, 0]


def test_everybody_who_borrows_hears_when_a_season_opens_and_closes_and_not_weeks_later(
    only, season, sunniva, leilani, teodor
):
    only("season-opens-14")
    opens = on(1).replace(month=8)
    assert rounds(opens.replace(day=1, hour=6), opens.replace(day=1, hour=7), opens.replace(day=2)) == [0, 2, 0]
    assert "Autumn 2027 runs from Sun 15 Aug" in body("season-opens-14")

    only("season-closes-14")
    closing = on(16).replace(month=11)
    assert rounds(closing) == [2]
    assert "Tue 30 Nov" in body("season-closes-14")

    Message.objects.all().delete()
    assert rounds(closing + timedelta(days=21), closing + timedelta(days=22)) == [2, 0]
    Message.objects.all().delete()
    assert rounds(closing + timedelta(days=23)) == [0]


def test_the_lay_up_names_what_is_open_machine_by_machine_and_nothing_where_all_is_ticked(
    only, season, mill, press, teodor, now
):
    only("lay-up-0")
    last = on(30).replace(month=11)
    assert rounds(last) == [0]  # no machine has a list

    signed = {"by": teodor, "at": now}
    of_mill = season_tasks.list_tasks(machine=mill, occasion="lay_up", lines=["Dry it.", "Oil it."], **signed)
    of_press = season_tasks.list_tasks(machine=press, occasion="lay_up", lines=["Scrub it."], **signed)
    done = {"season_key": season.pk, "season_name": season.name, **signed}
    season_tasks.tick(tasks=[of_mill[0]], **done)

    assert rounds(last - timedelta(days=1), last, last + timedelta(days=1)) == [0, 1, 0]
    assert told("lay-up-0") == ["Teodor Haskerby"]
    assert "Heron mill\n- Oil it.\n" in body("lay-up-0")
    assert "Heron press\n- Scrub it." in body("lay-up-0")
    assert "Dry it." not in body("lay-up-0")

    Message.objects.all().delete()
    season_tasks.tick(tasks=[of_mill[1], *of_press], **done)
    assert rounds(last) == [0]


def test_messages_say_their_kind_and_what_is_of_safety(agreed, mill, stop):
    stop(mill)
    reminders.write_due_reminders(at=on(10))

    kinds = set(Message.objects.exclude(kind="").values_list("kind", "is_safety"))
    assert kinds == {("fault", True), ("pickup", False)}


def test_the_same_number_of_queries_at_one_thing_and_at_twelve(agreed, promise_more, now):
    """With every row on, and nothing that is due yet."""
    policy.settle_usual(at=now)
    ReminderRow.objects.filter(is_on=False).update(is_on=True)
    early = on(1, 3)
    reminders.write_due_reminders(at=early)
    numbers = []
    for others in (0, 11):
        promise_more(others, first=on(15).date(), apart=3)
        numbers.append(_queries(early))

    assert numbers[0] == numbers[1]


def _queries(at) -> int:
    with CaptureQueriesContext(connection) as caught:
        assert reminders.write_due_reminders(at=at) == 0
    return len(caught)
