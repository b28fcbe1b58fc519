"""Letters that reached nobody: trying them again."""

import pytest
from django.urls import reverse

from kitshare.logbook.models import Entry
from kitshare.outbox import actions as outbox
from kitshare.outbox import returns
from kitshare.outbox.models import TRIES, BadAddress, Message


@pytest.fixture
def dead(sunniva, now):
    """Three letters: given up, come back, and one on its way."""
    made = [
        outbox.queue(key=key, to=sunniva, subject=key, body="Words.", at=now)
        for key in ("given up", "came back", "well")
    ]
    Message.objects.filter(pk=made[0].pk).update(attempts=TRIES, last_error="550 no such mailbox")
    Message.objects.filter(pk=made[1].pk).update(sent_at=now, came_back_at=now, last_error="5.1.1 gone")
    return made


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def test_each_stands_with_the_servers_words_and_those_ticked_are_tried_again(signed_in, perpetua, dead):
    client = signed_in(perpetua)
    page = words(client.get(reverse("post:failed")))
    assert all(said in page for said in ("550 no such mailbox", "5.1.1 gone", "given up", "came back"))

    answer = client.post(reverse("post:failed_again"), {"letter": [str(dead[1].pk), "9" * 30, "x"]}, follow=True)

    assert "1 letter will be sent" in words(answer)
    assert list(Message.objects.dead()) == [dead[0]]
    assert Message.objects.get(pk=dead[1].pk).is_waiting
    assert Entry.objects.about(dead[1]).filter(deed="message_tried_again").exists()


def test_all_are_tried_again_at_once_and_nothing_ticked_says_so(signed_in, perpetua, dead):
    client = signed_in(perpetua)
    nothing = client.post(reverse("post:failed_again"), follow=True)

    answer = client.post(reverse("post:failed_again"), {"all": "yes"}, follow=True)

    assert "tick the letters" in words(nothing)
    assert "2 letters will be sent" in words(answer)
    assert not Message.objects.dead().exists()


def test_one_that_came_back_says_so_on_its_page_and_can_be_tried_again_there(signed_in, perpetua, dead):
    client = signed_in(perpetua)
    page = words(client.get(reverse("post:show", args=[dead[1].pk])))
    client.post(reverse("post:again", args=[dead[1].pk]))

    assert "5.1.1 gone" in page
    assert Message.objects.get(pk=dead[1].pk).is_waiting


def test_an_address_from_which_post_comes_back_stands_with_its_member_until_it_is_trusted(
    signed_in, perpetua, sunniva, now
):
    returns.note_refused(address=sunniva.email, words="550 no such mailbox", for_good=True, at=now)
    client = signed_in(perpetua)
    for address in (reverse("people:members"), reverse("people:member", args=[sunniva.pk])):
        assert "ost to this address came back on" in words(client.get(address))

    client.post(reverse("people:member_address_works", args=[sunniva.pk]))

    assert not BadAddress.objects.exists()
    assert "came back" not in words(client.get(reverse("people:members")))
    assert Entry.objects.about(sunniva).filter(deed="address_trusted").exists()
