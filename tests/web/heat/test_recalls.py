"""Asking bottles back: proposed, looked over, told to the villages, printed, and over."""

import uuid
from datetime import date, timedelta
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.pressdays import recalls
from kitshare.pressdays.heat_models import Recall, RecalledBatch
from kitshare.pressdays.heat_refusals import NothingChosen, NothingSaid, NotTheirsToRecall, RecalledAlready, RecallOver
from kitshare.rules.periods import Period
from tests.heated import heat_log
from tests.web.page import Page

SAID = {"reason": "The probe was broken.", "what_to_do": "Open none. Bring them to the depot."}


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def recall(perpetua, now):
    def recall_it(records, **changes):
        return recalls.recall(records=records, **(SAID | {"by": perpetua, "at": now} | changes))

    return recall_it


def test_everybody_who_signs_for_the_village_is_told_once(record_heat, recall, sunniva, heated):
    first, second = record_heat(), record_heat(heat_log(hold=5), number=2)
    key = uuid.uuid4()

    made = recall([second, first], key=key)

    assert recall([second], key=key) == made
    message = Message.objects.get(member_key=sunniva.pk, key__startswith="recall:")
    assert message.subject == f"Please bring bottles back: {first.shown_code}, {second.shown_code}"
    for words in (
        "The probe was broken.",
        "48 × 0.75 L glass bottle, filled on Wed 1 Sep 2027",
        "Open none.",
        "/heat/",
    ):
        assert words in message.body
    assert Entry.objects.about(heated)[0].deed == "batches_recalled"


def test_a_batch_is_recalled_by_the_record_that_stands_now(record_heat, recall):
    old = record_heat(heat_log(hold=5))
    new = record_heat(replaces=old, why_replaced="Heated again.")

    recall([old])

    assert RecalledBatch.objects.get().record == new


def test_what_is_not_shown_to_be_held_is_proposed_until_it_is_recalled(record_heat, recall, today, scheme):
    held, short = record_heat(), record_heat(heat_log(hold=5), number=2)
    assert list(recalls.proposed(today)) == [short]
    assert list(recalls.proposed(today + timedelta(days=1))) == []
    assert recalls.kept_since(scheme, today) == date(2026, 3, 1)  # eighteen months before 1 September 2027

    recall([short, held])

    assert list(recalls.proposed(today)) == []


def test_the_first_page_of_the_coordinator_speaks_of_it_for_two_weeks(
    record_heat, signed_in, perpetua, sunniva, monkeypatch, now
):
    record_heat(heat_log(hold=5))
    words = "1 batch of the last two weeks is not shown to be held."

    assert words in words_of(signed_in(perpetua).get("/"))
    assert words not in words_of(signed_in(sunniva).get("/"))
    monkeypatch.setattr("django.utils.timezone.now", lambda: now + timedelta(days=15))
    assert words not in words_of(signed_in(perpetua).get("/"))


def test_what_is_heated_again_and_held_is_proposed_no_more(record_heat, today):
    short = record_heat(heat_log(hold=5))
    record_heat(replaces=short, why_replaced="Heated again.")

    assert list(recalls.proposed(today)) == []


@pytest.mark.parametrize(
    ("changes", "refusal"),
    [({"reason": " "}, NothingSaid), ({"what_to_do": ""}, NothingSaid)],
)
def test_a_recall_says_why_and_what_to_do(record_heat, recall, changes, refusal):
    with pytest.raises(refusal):
        recall([record_heat()], **changes)


def test_only_the_coordinator_recalls_and_never_nothing_and_nothing_twice(record_heat, recall, sunniva, perpetua, now):
    record = record_heat()
    with pytest.raises(NotTheirsToRecall):
        recall([record], by=sunniva)
    with pytest.raises(NothingChosen):
        recall([])
    made = recall([record])
    with pytest.raises(RecalledAlready):
        recall([record])
    with pytest.raises(NotTheirsToRecall):
        recalls.end_recall(recall=made, reason="Back.", by=sunniva, at=now)
    with pytest.raises(NothingSaid):
        recalls.end_recall(recall=made, reason=" ", by=perpetua, at=now)

    recalls.end_recall(recall=made, reason="Every bottle is back.", by=perpetua, at=now)

    with pytest.raises(RecallOver):
        recalls.end_recall(recall=made, reason="Again.", by=perpetua, at=now)
    assert recall([record]) != made


def test_a_recall_is_chosen_looked_over_made_printed_and_ended(record_heat, signed_in, perpetua, sunniva, leilani):
    held, short = record_heat(), record_heat(heat_log(hold=5), number=2)
    client = signed_in(perpetua)
    assert short.shown_code in words_of(client.get("/heat/recalls/"))
    begun = client.get("/heat/recalls/new/", {"codes": held.shown_code})
    assert held.shown_code in words_of(begun)
    typed = SAID | {
        "form_key": str(uuid.uuid4()),
        "chosen": [str(short.pk)],
        "codes": f"{held.shown_code.lower()}, ",
    }

    over = client.post("/heat/recalls/new/", typed)
    assert Page(over.content.decode()).wrong == []
    assert not Recall.objects.exists()
    for words in (held.shown_code, short.shown_code, "96 bottles in all", "Sunniva Okparadine", "01632 960 200"):
        assert words in words_of(over)
    hidden = Page(over.content.decode()).forms[-1][1]
    answer = client.post("/heat/recalls/new/", typed | {"codes": hidden["codes"], "sure": "1"})

    made = Recall.objects.get()
    page = client.get(answer.url)
    assert answer.url == f"/heat/recalls/{made.pk}/"
    assert "96 bottles" in words_of(page)
    assert Page(page.content.decode()).wrong == []
    assert "These bottles are asked back." in words_of(signed_in(sunniva).get(f"/heat/records/{held.pk}/"))
    assert "no labels now" in words_of(client.get(f"/heat/records/{held.pk}/labels/"))
    client = signed_in(perpetua)
    assert client.post(f"/heat/recalls/{made.pk}/end/", {"reason": ""}).status_code == 422
    client.post(f"/heat/recalls/{made.pk}/end/", {"reason": "Every bottle is back."})
    assert "Every bottle is back." in words_of(client.get(f"/heat/recalls/{made.pk}/"))
    assert "asked back" not in words_of(signed_in(sunniva).get(f"/heat/records/{held.pk}/"))


@pytest.mark.parametrize(
    ("changes", "words"),
    [
        ({}, "Tick the batches to recall, or type their codes."),
        ({"codes": "ABC"}, "“ABC”: Our codes have no B"),
        ({"codes": "333333"}, "No batch has the code 333-333."),
        ({"codes": "AAA " * 300}, "more than 200 codes"),
        ({"reason": ""}, "Say why these bottles are asked back."),
    ],
)
def test_a_recall_that_is_refused_keeps_what_was_typed(signed_in, perpetua, changes, words):
    answer = signed_in(perpetua).post("/heat/recalls/new/", SAID | changes)

    assert answer.status_code == 422
    assert words in words_of(answer)
    assert "Bring them to the depot." in words_of(answer)


def test_recalls_are_for_coordinators(signed_in, sunniva, teodor):
    for member in (sunniva, teodor):
        for address in ("/heat/recalls/", "/heat/recalls/new/", "/heat/recalls/1/"):
            assert signed_in(member).get(address).status_code == 403


def test_the_list_costs_the_same_whatever_its_length(
    record_heat, recall, signed_in, perpetua, django_assert_max_num_queries, django_assert_num_queries
):
    client = signed_in(perpetua)
    recall([record_heat()])
    record_heat(heat_log(hold=5), number=2)
    with django_assert_max_num_queries(20) as counted:
        client.get("/heat/recalls/")
    recall([record_heat(number=3)])
    record_heat(heat_log(hold=5), number=4)

    with django_assert_num_queries(len(counted)):
        client.get("/heat/recalls/")


@pytest.fixture
def of_fennerlow(record_heat, fennerlow, leilani, perpetua, heated, press, now, today):
    """A batch that Fennerlow heated in a kettle of its own, while the press was there."""
    booking = bookings.book_kit(
        village=fennerlow,
        borrower=leilani,
        machines=[press],
        period=Period(start=today, end=heated.back_on),
        fruit_amount=Decimal("400"),
        fruit_unit="kg",
        note="",
        by=leilani,
        at=now,
        today=today,
    )
    booking = bookings.agree(booking=booking, by=perpetua, at=now, today=today, revision=booking.revision)
    return record_heat(booking=booking, pasteuriser=None, probe=None, by=leilani)


def test_each_village_hears_of_its_own_batches_alone(record_heat, of_fennerlow, recall, leilani):
    record = record_heat()

    recall([record, of_fennerlow])

    told = Message.objects.get(member_key=leilani.pk, key__startswith="recall:")
    assert told.subject == f"Please bring bottles back: {of_fennerlow.shown_code}"
    assert record.shown_code not in told.body


def test_the_page_of_a_recall_costs_the_same_for_one_village_and_for_two(
    record_heat, of_fennerlow, recall, signed_in, perpetua, django_assert_max_num_queries, django_assert_num_queries
):
    client = signed_in(perpetua)
    one, two = recall([record_heat()]), recall([record_heat(number=2), of_fennerlow])
    with django_assert_max_num_queries(20) as counted:
        client.get(f"/heat/recalls/{one.pk}/")

    with django_assert_num_queries(len(counted)):
        page = client.get(f"/heat/recalls/{two.pk}/")

    assert "Leilani Crabbwater" in words_of(page)
