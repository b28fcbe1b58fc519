"""The page of a long work: how far it is, leaving it off, and what it made."""

import pytest
from django.urls import reverse
from django.utils import timezone

from kitshare.web.bringing import files, views
from kitshare.works import actions as works
from kitshare.works import running
from kitshare.works.models import State, Work
from tests.bringing.conftest import sent  # noqa: F401  a fixture
from tests.works.test_running import bring, brought  # noqa: F401  fixtures


@pytest.fixture(autouse=True)
def at_that_moment(monkeypatch, now):
    monkeypatch.setattr(timezone, "now", lambda: now)


def test_a_large_file_becomes_a_work_and_sent_twice_the_same(brought, signed_in, perpetua, now, monkeypatch):  # noqa: F811
    monkeypatch.setattr(views, "AT_ONCE", 1)
    browser = signed_in(perpetua)

    answers = [browser.post(reverse("bringing:bring", args=[brought.pk])) for _ in range(2)]

    work = Work.objects.get()
    assert [answer["Location"] for answer in answers] == [reverse("works:show", args=[work.pk])] * 2
    running.do(work.pk, clock=lambda: now)
    page = browser.get(answers[0]["Location"]).content.decode()
    assert "2 bookings were made." in page
    assert reverse("bringing:look", args=[brought.pk]) in page


def test_a_large_copy_becomes_a_work_with_a_file_to_fetch(agreed_booking, signed_in, perpetua, now, monkeypatch):
    monkeypatch.setattr(files, "AT_ONCE", 0)
    browser = signed_in(perpetua)
    asked = browser.get(reverse("bringing:copy"), {"season": "all", "as": "csv"})
    work = Work.objects.get()
    assert asked["Location"] == reverse("works:show", args=[work.pk])
    assert browser.get(reverse("works:file", args=[work.pk])).status_code == 404

    running.do(work.pk, clock=lambda: now)

    assert reverse("works:file", args=[work.pk]) in browser.get(asked["Location"]).content.decode()
    fetched = browser.get(reverse("works:file", args=[work.pk]))
    assert fetched.content.startswith(b"\xef\xbb\xbfReference")
    assert fetched["Cache-Control"] == "private, no-store"


def test_the_part_that_moves_asks_for_itself_until_it_is_over(bring, signed_in, perpetua, now):  # noqa: F811
    begun = works.take_up(work=bring, at=now)
    works.note_progress(work=begun, done=412, total=2000, words="Each row is looked at.", at=now)
    browser = signed_in(perpetua)
    address = reverse("works:show", args=[bring.pk])

    part = browser.get(address, headers={"HX-Request": "true"})
    works.finish(work=begun, words="Done.", made=None, at=now)
    over = browser.get(address, headers={"HX-Request": "true"})

    said = part.content.decode()
    assert ('max="2000" value="412"' in said, "412 of 2,000" in said, "every 1s" in said) == (True, True, True)
    assert "<html" not in said
    assert (part.get("HX-Refresh"), over["HX-Refresh"]) == (None, "true")
    assert "every 1s" not in over.content.decode()


def test_cancel_says_what_is_true(bring, signed_in, perpetua, now, subtests):  # noqa: F811
    browser = signed_in(perpetua)
    address = reverse("works:cancel", args=[bring.pk])
    begun = works.take_up(work=bring, at=now)

    under_way = browser.post(address, follow=True).content.decode()
    works.finish(work=begun, words="Done.", made=None, at=now)
    too_late = browser.post(address, follow=True).content.decode()

    assert "Asked to stop" in under_way
    assert "will at its next step" in under_way
    assert "It was done already" in too_late
    assert Work.objects.get().state == State.DONE


def test_only_coordinators_see_works_and_the_list_costs_the_same(
    bring,  # noqa: F811
    signed_in,
    sunniva,
    teodor,
    perpetua,
    now,
    django_assert_num_queries,
):
    addresses = [reverse("works:list"), *(reverse(f"works:{name}", args=[bring.pk]) for name in ("show", "file"))]
    for somebody in (sunniva, teodor):
        assert {signed_in(somebody).get(address).status_code for address in addresses} == {403}
    browser = signed_in(perpetua)
    for more in (0, 11):
        for number in range(more):
            works.ask(kind="copy", about=str(number), keys={}, title="Copy", by=perpetua, at=now)
        with django_assert_num_queries(4):
            page = browser.get(reverse("works:list")).content.decode()
        assert page.count('<li class="row-head">') == more + 1
