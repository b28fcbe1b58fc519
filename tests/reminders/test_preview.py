"""Whom a row would have told last week, and will tell next week: what rounds really do, and nothing is written."""

from datetime import time

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitshare.bookings import actions as bookings
from kitshare.outbox.models import Message
from kitshare.reminders import actions as reminders
from kitshare.reminders import policy
from kitshare.reminders.models import Addressed, Kind, ReminderRow
from kitshare.reminders.preview import Line, weeks_of
from tests.reminders.conftest import on

pytestmark = pytest.mark.django_db


@pytest.fixture
def row(scheme, now):
    policy.settle_usual(at=now)

    def row(usual: str) -> ReminderRow:
        return ReminderRow.objects.get(usual=usual)

    return row


@pytest.fixture
def look(scheme):
    def look(row: ReminderRow, at):
        return weeks_of(row, scheme=scheme, others=ReminderRow.objects.on(), at=at)

    return look


def named(lines: list[Line]) -> list[tuple[str, str]]:
    return [(line.name, f"{line.at:%d %H:%M}") for line in lines]


def test_before_a_pickup_it_is_ahead_and_after_it_behind_and_nothing_is_written(row, look, agreed, sunniva):
    before = Message.objects.count()
    ahead = look(row("pickup-1"), on(8))
    bookings.mark_out(booking=agreed, by=sunniva, at=on(11))
    behind = look(row("pickup-1"), on(12))

    assert (named(ahead.last), named(ahead.coming), ahead.people_coming) == (
        *([], [("Sunniva Okparadine", "10 07:00")]),
        1,
    )
    assert (named(behind.last), named(behind.coming), behind.people_last) == (
        *([("Sunniva Okparadine", "10 07:00")], []),
        1,
    )
    assert ahead.coming[0].subject == "Pickup on Sat 11 Sep, Sorrelhythe"
    assert Message.objects.count() == before


def test_what_was_told_by_rounds_is_what_the_look_back_says(row, look, agreed, sunniva):
    """Rounds at four hours of each day, from before the pickup until the kit is back late, against one look back."""
    for day in range(9, 17):
        for hour in (6, 7, 12, 23):
            if (day, hour) == (11, 12):
                bookings.mark_out(booking=agreed, by=sunniva, at=on(11, 11))
            if (day, hour) == (15, 12):
                bookings.mark_back(booking=agreed, by=sunniva, at=on(15, 11), today=on(15).date())
            reminders.write_due_reminders(at=on(day, hour))
    end = on(16)

    rows = [row(usual) for usual in ("pickup-1", "return-0", "overdue-1", "overdue-2", "overdue-3")]
    seen = [line for one in rows for line in look(one, end).last]

    kinds = [Kind.PICKUP, Kind.RETURN, Kind.OVERDUE]
    told = Message.objects.filter(kind__in=kinds, queued_at__gte=on(9), queued_at__lt=end)
    really = sorted((one.to_name, one.subject) for one in told)
    assert sorted((line.name, line.subject) for line in seen) == really
    assert len(really) == 1 + 1 + 2 + 2


def test_a_row_that_is_typed_and_not_saved_says_who_hears_with_the_next_round(row, look, agreed):
    typed = ReminderRow(kind=Kind.PICKUP, days=-5, at=time(7), addressed=Addressed.BORROWER)

    weeks = look(typed, on(8))

    assert (named(weeks.now), weeks.coming, weeks.people_coming) == ([("Sunniva Okparadine", "08 09:00")], [], 1)


def test_what_was_told_already_is_not_ahead(row, look, agreed):
    reminders.write_due_reminders(at=on(10))

    weeks = look(row("pickup-1"), on(10, 8))

    assert (weeks.now, weeks.coming) == ([], [])


def test_a_service_that_was_done_late_was_told_of_until_then(row, look, plan_care, record_care):
    plan = plan_care(kind="service", name="Blades sharpened", due_on=on(6).date())
    record_care(plan, done_on=on(8).date(), at=on(8, 12), today=on(8).date())

    assert named(look(row("service-overdue"), on(10)).last) == [("Teodor Haskerby", "07 07:00")]
    assert look(row("service-overdue"), on(10)).coming == []


def test_of_what_is_told_at_once_it_is_said_what_was_told(row, look, agreed, mill, stop):
    stop(mill)
    reminders.write_due_reminders(at=on(2))

    weeks = look(row("fault"), on(8))

    assert (weeks.was_told, weeks.can_look_ahead, weeks.people_last) == (True, False, 2)


def test_every_row_can_be_looked_at_in_few_queries(row, look, agreed, season, perpetua, teodor, leilani, subtests):
    for usual in policy.USUAL:
        one = row(usual)
        with subtests.test(usual), CaptureQueriesContext(connection) as caught:
            look(one, on(10))
        assert len(caught) <= 27, usual


def test_a_look_costs_the_same_however_many_bookings(row, look, agreed, promise_more):
    one = row("pickup-1")

    def queries() -> int:
        with CaptureQueriesContext(connection) as caught:
            look(one, on(9))
        return len(caught)

    before = queries()
    promise_more(11, first=on(4).date(), apart=7)

    assert queries() == before
