"""How members choose to be told."""

from datetime import time, timedelta

import pytest
from django.db import IntegrityError, connection, transaction
from django.test.utils import CaptureQueriesContext

from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.outbox import actions as outbox
from kitshare.outbox.models import Channel, Message
from kitshare.people import hearing
from kitshare.people.models import Member

NOTHING = {"digest_at": None, "quiet_from": None, "quiet_until": None, "wants_reminders": True}


@pytest.fixture
def choose(sunniva, now):
    def choose(**words):
        words = NOTHING | {"by": sunniva, "at": now} | words
        return hearing.choose_hearing(member=sunniva, **words)

    return choose


def test_what_was_chosen_counts_from_the_next_message_on_and_stands_in_the_logbook(choose, now, scheme):
    scheme.time_zone = "Europe/London"
    scheme.save()

    member = choose(digest_at=time(18), quiet_from=time(22), quiet_until=time(7))

    message = outbox.queue(key="one", to=member, subject="Changed", body="Words.", at=now)
    assert message.due_at.astimezone(scheme.zone).time() == time(18)
    assert message.digest_on == now.date()
    line = Entry.objects.about(member).get(deed="hearing_chosen")
    assert "one letter a day, at: None → 18:00" in line.text


@pytest.mark.parametrize(
    ("words", "field"),
    [
        ({"quiet_from": time(22)}, "quiet_until"),
        ({"quiet_until": time(7)}, "quiet_from"),
        ({"quiet_from": time(7), "quiet_until": time(7)}, "quiet_until"),
        ({"quiet_from": time(22), "quiet_until": time(7), "digest_at": time(6)}, "digest_at"),
    ],
)
def test_hours_that_cannot_be_meant_together_are_refused(choose, words, field):
    with pytest.raises(hearing.PeopleRefused) as caught:
        choose(**words)

    assert caught.value.field == field


def test_the_database_itself_refuses_quiet_hours_with_one_end(sunniva):
    for ends in ({"quiet_from": time(22)}, {"quiet_from": time(7), "quiet_until": time(7)}):
        with pytest.raises(IntegrityError, match="quiet_hours_have_two_ends"), transaction.atomic():
            Member.objects.filter(pk=sunniva.pk).update(**ends)


def test_whoever_wants_no_digest_any_more_is_told_what_waits_at_once(choose, now):
    outbox.queue(key="one", to=choose(digest_at=time(18)), subject="Changed", body="Words.", at=now)

    choose()

    assert outbox.deliver_due(at=now).sent == 1


def test_reminders_are_stopped_once_however_often_it_is_asked(sunniva, choose, now):
    member = choose(digest_at=time(18))
    outbox.queue(key="reminder", to=member, subject="Pickup", body="Words.", at=now, kind="pickup")

    answers = [hearing.stop_reminders(member=sunniva, at=now) for _click in range(2)]

    assert answers == [True, False]
    assert Message.objects.get().channel == Channel.UNWANTED
    assert Entry.objects.about(sunniva).filter(deed="hearing_chosen").count() == 2


def test_of_two_who_choose_at_once_the_second_is_told(choose, sunniva, perpetua):
    seen = newest_line(sunniva)
    choose(digest_at=time(18))

    with pytest.raises(ChangedMeanwhile, match="18:00"):
        choose(digest_at=time(9), by=perpetua, seen=seen)


def test_who_chose_nothing_costs_no_query(sunniva):
    with CaptureQueriesContext(connection) as asked:
        wishes = sunniva.wishes()

    assert len(asked) == 0
    assert wishes.reminders


def test_a_night_in_which_a_time_comes_twice_sends_once(choose, scheme, now):
    """Europe/London, 31 October 2027: 01:30 comes at 00:30 and at 01:30 UTC (IANA time zone database)."""
    scheme.time_zone = "Europe/London"
    scheme.save()
    member = choose(quiet_from=time(22), quiet_until=time(1, 30))
    night = now.replace(month=10, day=30, hour=22, minute=0)
    outbox.queue(key="one", to=member, subject="Changed", body="Words.", at=night)

    sent = [outbox.deliver_due(at=night + timedelta(minutes=30 * turn)).sent for turn in range(10)]

    assert sent == [0, 0, 0, 0, 0, 1, 0, 0, 0, 0]
