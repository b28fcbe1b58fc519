from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.outbox import actions as outbox
from kitshare.outbox.models import TRIES, Channel, Message


@pytest.fixture
def told(sunniva, now):
    def tell(key="pickup:1", **words):
        words = {"subject": "Your pickup", "body": "Come at nine.\n\nBring gloves.", "to": sunniva, "at": now} | words
        return outbox.queue(key=key, **words)

    return tell


@pytest.fixture
def emrys(sunniva):
    """Somebody without an e-mail address."""
    sunniva.email = None
    sunniva.name = "Emrys ap Ferrow"
    return sunniva


def give_up(message: Message) -> None:
    Message.objects.filter(pk=message.pk).update(attempts=TRIES, last_error="550 no such mailbox")


def read(client, name, *args, **query) -> str:
    answer = client.get(reverse(name, args=args), query)
    assert answer.status_code == 200
    return " ".join(answer.content.decode().split())


@pytest.mark.parametrize("name", ["post:list", "post:show"])
def test_post_is_for_the_coordinator(signed_in, sunniva, teodor, told, name):
    args = [told().pk] if name == "post:show" else []

    for member in (sunniva, teodor):
        answer = signed_in(member).get(reverse(name, args=args))
        assert answer.status_code == 403
        assert "for the coordinator" in answer.content.decode()


@pytest.mark.parametrize("name", ["post:told", "post:again"])
def test_no_link_can_do_a_deed_and_no_borrower_either(signed_in, sunniva, perpetua, told, name):
    address = reverse(name, args=[told().pk])

    assert signed_in(sunniva).post(address).status_code == 403
    assert signed_in(perpetua).get(address).status_code == 405


def test_an_empty_post_says_what_to_do(signed_in, perpetua):
    assert "Ask for a booking or agree one" in read(signed_in(perpetua), "post:list")


@pytest.mark.parametrize("address", ["", "smtp://mail.example.org"])
def test_the_page_says_plainly_whether_anything_leaves_this_machine(signed_in, perpetua, settings, told, address):
    settings.EMAIL_ADDRESS = address
    message = told()

    for page in (read(signed_in(perpetua), "post:list"), read(signed_in(perpetua), "post:show", message.pk)):
        assert ("nothing leaves this machine" in page) is (address == "")


def test_a_message_without_a_mail_server_is_kept_here_and_says_so(signed_in, perpetua, settings, told, now):
    settings.EMAIL_ADDRESS = ""
    message = told()
    outbox.deliver_due(at=now)

    page = read(signed_in(perpetua), "post:show", message.pk)

    assert "kept here" in page
    assert "<p>Come at nine.</p> <p>Bring gloves.</p>" in page


def test_a_call_is_made_and_ticked_off(signed_in, perpetua, told, emrys):
    message = told(to=emrys)
    client = signed_in(perpetua)
    before = read(client, "post:list")
    assert "1 message is to be told by telephone" in before
    assert 'href="tel:01632960200"' in read(client, "post:list", show="telephone")

    answer = client.post(reverse("post:told", args=[message.pk]), follow=True)

    assert "Noted: Emrys ap Ferrow was told by telephone." in answer.content.decode()
    message.refresh_from_db()
    assert message.told_by_name == "Perpetua Quillstone"
    assert "Nobody is to be telephoned" in read(client, "post:list", show="telephone")


def test_a_second_tap_is_told_that_it_was_done_already(signed_in, perpetua, told, emrys):
    message = told(to=emrys)
    client = signed_in(perpetua)
    for _tap in range(2):
        answer = client.post(reverse("post:told", args=[message.pk]), follow=True)

    assert "was told already" in answer.content.decode()


def test_somebody_without_any_number_is_not_forgotten(signed_in, perpetua, told, emrys):
    emrys.telephone = ""

    assert "No number is known" in read(signed_in(perpetua), "post:show", told(to=emrys).pk)


def test_what_was_given_up_stands_on_top_and_can_be_tried_again(signed_in, perpetua, told):
    message = told()
    give_up(message)
    client = signed_in(perpetua)
    assert "1 message could not be sent" in read(client, "post:list")
    assert "550 no such mailbox" in read(client, "post:show", message.pk)

    client.post(reverse("post:again", args=[message.pk]))

    message.refresh_from_db()
    assert message.attempts == 0
    assert "could not be sent" not in read(client, "post:list")


def test_a_message_on_its_way_offers_no_deed(signed_in, perpetua, told):
    page = read(signed_in(perpetua), "post:show", told().pk)

    assert "Try again" not in page
    assert ">Told by telephone<" not in page


@pytest.mark.parametrize(
    ("bundle", "subjects"),
    [
        ("telephone", ["To ring"]),
        ("failed", ["Failed"]),
        ("waiting", ["Waiting"]),
        ("delivered", ["Delivered"]),
        ("", ["To ring", "Failed", "Waiting", "Delivered"]),
        ("nonsense", ["To ring", "Failed", "Waiting", "Delivered"]),
    ],
)
def test_each_bundle_holds_its_own(signed_in, perpetua, told, now, emrys, bundle, subjects):
    told("delivered", subject="Delivered", to=perpetua)
    outbox.deliver_due(at=now)
    told("ring", subject="To ring", to=emrys)
    give_up(told("failed", subject="Failed", to=perpetua))
    told("waiting", subject="Waiting", to=perpetua)

    answer = signed_in(perpetua).get(reverse("post:list"), {"show": bundle})

    assert {row.record.subject for row in answer.context["table"].rows} == set(subjects)


def test_a_letter_leads_to_its_booking_and_script_in_it_stays_text(signed_in, perpetua, told):
    message = told(thread="booking:41", subject="<script>alert(1)</script>", body="<script>alert(2)</script>")

    page = read(signed_in(perpetua), "post:show", message.pk)

    assert "<script>alert" not in page
    assert reverse("bookings:show", args=[41]) in page


@pytest.mark.parametrize(
    "query", [{"page": "0"}, {"page": "x"}, {"sort": "; drop"}, {"sort": "-to_name"}, {"page": "9999"}]
)
def test_no_query_breaks_the_list(signed_in, perpetua, told, query):
    told()

    assert signed_in(perpetua).get(reverse("post:list"), query).status_code == 200


@pytest.mark.parametrize("pk", [0, 10**30])
def test_a_message_that_does_not_exist_is_not_found(signed_in, perpetua, pk):
    assert signed_in(perpetua).get(reverse("post:show", args=[pk])).status_code == 404
    assert signed_in(perpetua).post(reverse("post:told", args=[pk])).status_code == 404


def test_twelve_messages_cost_as_many_queries_as_one(signed_in, perpetua, told, now):
    client = signed_in(perpetua)
    told("first")
    with CaptureQueriesContext(connection) as one:
        read(client, "post:list")
    for number in range(11):
        told(f"more:{number}", at=now + timedelta(minutes=number))

    with CaptureQueriesContext(connection) as twelve:
        read(client, "post:list")

    assert len(twelve) == len(one)


def test_how_a_message_stands_is_said_in_a_word_and_its_page_says_more(signed_in, perpetua, told, now, subtests):
    digest = told("digest")
    Message.objects.filter(pk=digest.pk).update(is_digest=True, digest_on=now.date())
    for word, said, facts in [
        ("waits for the daily letter", "Daily letter", {"digest_on": now.date()}),
        ("in a daily letter", "Sent with", {"digest_on": now.date(), "gathered_in": digest}),
        ("came back", "It came back on", {"sent_at": now, "came_back_at": now, "last_error": "5.1.1 gone"}),
        ("not sent: wants no reminders", "Your pickup", {"channel": Channel.UNWANTED}),
    ]:
        with subtests.test(word):
            message = told(word)
            Message.objects.filter(pk=message.pk).update(**facts)

            page = read(signed_in(perpetua), "post:show", message.pk)

            assert word in page
            assert said in page
            assert ">Told by telephone<" not in page
