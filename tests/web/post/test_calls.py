"""The list of calls, and what becomes of a call that nobody makes."""

from datetime import timedelta

import pytest
from django.core import mail
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitshare.outbox import actions as outbox
from kitshare.outbox import by_hand
from kitshare.outbox.models import Message
from kitshare.people import missed_calls
from kitshare.people.models import Member


@pytest.fixture
def call(sunniva):
    """A message to Sunniva, who has no e-mail address: `call("one", days=2)` is two days old."""
    sunniva.email = None

    def make(key="one", *, days=0, **words):
        words = {"subject": f"About {key}", "body": "Come at nine.", "to": sunniva} | words
        return outbox.queue(key=key, at=timezone.now() - timedelta(days=days), **words)

    return make


def words(answer) -> str:
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


def test_the_list_says_whom_to_ring_and_what_to_say_and_a_tick_can_be_taken_back(signed_in, perpetua, call):
    message = call()
    client = signed_in(perpetua)
    page = words(client.get(reverse("post:calls")))
    assert all(said in page for said in ("Sunniva Okparadine", 'href="tel:01632960200"', "About one", "Come at nine."))

    ticked = client.post(reverse("post:told", args=[message.pk]), {"from": "calls"}, follow=True)
    back = client.post(reverse("post:not_told", args=[message.pk]), {"from": "calls"}, follow=True)
    twice = client.post(reverse("post:not_told", args=[message.pk]), {"from": "calls"}, follow=True)

    assert "Ticked within the last hour" in words(ticked)
    assert "is still to be told" in words(back)
    assert "can no longer be taken back" in words(twice)
    assert Message.objects.to_telephone().count() == 1


def test_a_tick_of_yesterday_stays(perpetua, call, now):
    message = call()
    by_hand.mark_told(message=message, by=perpetua, at=now)

    with pytest.raises(by_hand.NotToUndo):
        by_hand.undo_told(message=message, by=perpetua, at=now + timedelta(hours=2))


def test_what_concerns_one_person_is_one_call_and_who_waits_longest_is_first(signed_in, perpetua, call, teodor):
    teodor.email = None
    call("late", days=3)
    call("other", to=teodor)
    call("early")

    people = signed_in(perpetua).get(reverse("post:calls")).context["people"]

    assert [(person.name.split()[0], len(person.calls), person.is_missed) for person in people] == [
        ("Sunniva", 2, True),
        ("Teodor", 1, False),
    ]


def test_the_list_is_for_coordinators_and_no_link_ticks(signed_in, sunniva, perpetua, call):
    message = call()
    for name, args in (("post:calls", []), ("post:failed", [])):
        assert signed_in(sunniva).get(reverse(name, args=args)).status_code == 403
    for name in ("post:told", "post:not_told"):
        assert signed_in(sunniva).post(reverse(name, args=[message.pk])).status_code == 403
        assert signed_in(perpetua).get(reverse(name, args=[message.pk])).status_code == 405


def test_a_call_missed_by_the_end_of_the_next_day_is_loud_for_coordinators_and_mailed_to_them_once(
    signed_in, perpetua, call, settings
):
    settings.EMAIL_ADDRESS = "smtp://mail.example.org"
    Member.objects.create(name="Idris Vellacombe", coordinates=True, telephone="01632 960 124")  # without e-mail
    call("one", days=2)
    call("two", days=1)
    now = timezone.now()

    told = [missed_calls.tell_of_missed(at=now + timedelta(minutes=turn)) for turn in range(2)]
    outbox.deliver_due(at=now)

    assert told == [1, 0]
    [letter] = mail.outbox
    assert letter.to == ["Perpetua Quillstone <perpetua@example.org>"]
    assert "Sunniva Okparadine, 01632 960 200: About one" in letter.body
    client = signed_in(perpetua)
    assert "1 person has been waiting since before yesterday" in words(client.get(reverse("post:calls")))
    assert "1 call was not made by the end of the day after" in words(client.get(reverse("post:list")))
    assert "not rung in time" in words(client.get(reverse("home:home")))


def test_an_empty_list_says_so(signed_in, perpetua):
    assert "Nobody is to be telephoned" in words(signed_in(perpetua).get(reverse("post:calls")))
    assert "Nothing has failed" in words(signed_in(perpetua).get(reverse("post:failed")))


@pytest.mark.parametrize("name", ["post:calls", "post:failed"])
def test_twelve_lines_cost_as_many_queries_as_one(signed_in, perpetua, call, teodor, name):
    client = signed_in(perpetua)
    counts = []
    for number in (1, 12):
        for nth in range(number):
            call(f"{number}:{nth}")
            dead = outbox.queue(key=f"dead:{number}:{nth}", to=teodor, subject="x", body="x", at=timezone.now())
            Message.objects.filter(pk=dead.pk).update(attempts=12)
        with CaptureQueriesContext(connection) as asked:
            client.get(reverse(name))
        counts.append(len(asked))

    assert counts[0] == counts[1]
