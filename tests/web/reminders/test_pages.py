"""The pages of the policy: rows in words, changed, added, switched, looked at, and put back."""

from datetime import UTC, datetime, time
from html import unescape

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from kitshare.reminders import policy
from kitshare.reminders.models import Kind, ReminderRow
from tests.reminders.conftest import agreed, asked
from tests.web.page import Page

__all__ = ["agreed", "asked"]
pytestmark = pytest.mark.django_db

SAID = {"days": "2", "side": "before", "at": "07:00", "addressed": "borrower", "by": "mail"}


@pytest.fixture
def row(scheme, now):
    policy.settle_usual(at=now)

    def row(usual: str) -> ReminderRow:
        return ReminderRow.objects.get(usual=usual)

    return row


def read(answer) -> str:
    return " ".join(unescape(answer.content.decode()).split())


def test_the_pages_are_for_the_coordinator_alone(signed_in, sunniva, teodor, row):
    pk = row("pickup-1").pk
    asked = [("get", "list", []), ("get", "change", [pk]), ("get", "new", ["pickup"]), ("get", "usual", [])]
    asked += [("post", "switch", [pk]), ("post", "usual", []), ("post", "change", [pk])]

    for member in (sunniva, teodor):
        browser = signed_in(member)
        for method, name, args in asked:
            assert getattr(browser, method)(reverse(f"reminders:{name}", args=args)).status_code == 403
    assert signed_in(sunniva).get(reverse("reminders:switch", args=[pk])).status_code in {403, 405}


def test_the_list_says_each_row_in_words_and_writes_the_usual_ones_down_where_there_are_none(signed_in, perpetua):
    page = read(signed_in(perpetua).get(reverse("reminders:list")))

    for words in (
        "1 day before pickup, at 07:00, to the borrower, by mail",
        "3 days after the day of return, at 07:00, to the borrower and the coordinators, by mail",
        "As soon as it is known, at any hour, to the borrower and the coordinators, by mail <span class",
        "14 days before the season's first day, at 07:00, to everybody who borrows, by mail",
        "stays on",
        "by the clock of UTC",
    ):
        assert words in page
    assert ReminderRow.objects.count() == len(policy.USUAL)
    assert reverse("reminders:list") in read(signed_in(perpetua).get(reverse("post:list")))
    assert reverse("reminders:list") in read(signed_in(perpetua).get(reverse("setup:scheme")))


def test_the_list_costs_the_same_at_one_more_row_and_at_twelve(signed_in, perpetua, row, now):
    row("pickup-1")
    browser = signed_in(perpetua)

    def queries(more: range) -> int:
        for days in more:
            said = policy.Said(addressed="borrower", days=-days, at=time(7), hours=None, by="mail")
            policy.add_row(kind=Kind.PICKUP, said=said, by=perpetua, at=now)
        with CaptureQueriesContext(connection) as caught:
            browser.get(reverse("reminders:list"))
        return len(caught)

    assert queries(range(8, 9)) == queries(range(9, 20))


def test_a_row_is_changed_and_said_back(signed_in, perpetua, row):
    address = reverse("reminders:change", args=[row("pickup-1").pk])
    browser = signed_in(perpetua)

    shown = Page(browser.get(address).content.decode())
    page = read(browser.post(address, SAID | {"at": "18.30", "by": "both", "seen": shown.fields["seen"]}, follow=True))

    assert "“Pickup soon” goes 2 days before pickup, at 18:30, to the borrower, by mail and by telephone." in page
    assert "Changed the reminder “Pickup soon”: 1 day before pickup" in read(browser.get(address))
    changed = row("pickup-1")
    assert (changed.days, changed.at, changed.by) == (-2, time(18, 30), "both")


@pytest.mark.parametrize(
    ("usual", "typed", "words"),
    [
        ("pickup-1", {"days": "7"}, "There is a row for that day and these people already"),
        ("pickup-1", {"days": "31"}, "less than or equal to 30"),
        ("pickup-1", {"days": "-1"}, "greater than or equal to 0"),
        ("pickup-1", {"at": ""}, "This field is required."),
        ("pickup-1", {"at": "25:00"}, "Write the time as hours and minutes"),
        ("test-14", {"side": "beside", "addressed": "maintainers"}, "beside is not one of the available choices"),
        ("pickup-1", {"addressed": "everybody"}, "everybody is not one of the available choices"),
        ("overdue-1", {"days": "0", "side": "after", "addressed": "both"}, "This one goes from 1 to 60 days after."),
        ("test-14", {"days": "90", "side": "after", "addressed": "maintainers"}, "90 days before to 60 days after"),
        ("offer-3", {"hours": "0"}, "greater than or equal to 1"),
    ],
)
def test_what_cannot_be_is_said_by_the_field_and_what_was_typed_stays(signed_in, perpetua, row, usual, typed, words):
    before = policy.in_words(row(usual))

    answer = signed_in(perpetua).post(reverse("reminders:change", args=[row(usual).pk]), SAID | typed)

    page = read(answer)
    assert answer.status_code == 422
    assert "<title>Error:" in page
    assert words in page
    assert policy.in_words(row(usual)) == before
    name, value = next(iter(typed.items()))
    assert f'name="{name}"' in page
    assert value in page


def test_the_second_tab_is_told_what_the_first_changed_and_may_insist(signed_in, perpetua, row):
    address = reverse("reminders:change", args=[row("pickup-1").pk])
    browser = signed_in(perpetua)
    seen = Page(browser.get(address).content.decode()).fields["seen"]
    browser.post(address, SAID | {"days": "3", "seen": seen})

    refused = browser.post(address, SAID | {"days": "4", "seen": seen})
    insisted = browser.post(address, SAID | {"days": "4", "seen": Page(refused.content.decode()).fields["seen"]})

    assert "This was changed after you opened it." in read(refused)
    assert "3 days before pickup" in read(refused)
    assert insisted.status_code == 302
    assert row("pickup-1").days == -4


def test_a_row_is_added_and_one_of_a_kind_that_has_one_is_not_offered(signed_in, perpetua, row):
    row("pickup-1")
    browser = signed_in(perpetua)

    page = read(
        browser.post(reverse("reminders:new", args=["overdue"]), SAID | {"days": "6", "side": "after"}, follow=True)
    )

    assert "“Not back yet” goes 6 days after the day of return" in page
    assert browser.get(reverse("reminders:new", args=["fault"])).status_code == 404
    assert browser.get(reverse("reminders:new", args=["nothing"])).status_code == 404


def test_a_row_is_switched_off_and_the_same_button_undoes_it(signed_in, perpetua, row):
    address = reverse("reminders:switch", args=[row("pickup-1").pk])
    browser = signed_in(perpetua)

    off = read(browser.post(address, {"on": "no"}, follow=True))
    was_on = row("pickup-1").is_on
    on = read(browser.post(address, {"on": "yes"}, follow=True))
    kept = read(browser.post(reverse("reminders:switch", args=[row("fault").pk]), {"on": "no"}, follow=True))

    assert "Switched off: “Pickup soon”" in off
    assert not was_on
    assert "Switched on: “Pickup soon”" in on
    assert row("pickup-1").is_on
    assert "This is a matter of safety" in kept
    assert row("fault").is_on


def test_back_to_the_usual_ones_is_looked_over_first(signed_in, perpetua, row):
    browser = signed_in(perpetua)
    assert "The reminders are the usual ones." in read(browser.get(reverse("reminders:usual")))
    browser.post(reverse("reminders:change", args=[row("pickup-1").pk]), SAID)

    page = read(browser.get(reverse("reminders:usual")))
    done = read(browser.post(reverse("reminders:usual"), follow=True))

    assert "2 days before pickup" in page
    assert "The usual reminders stand again." in done
    assert row("pickup-1").days == -1


def test_the_edit_page_says_whom_it_would_have_told_and_looks_at_what_is_typed_without_saving(
    signed_in, perpetua, row, agreed, monkeypatch
):
    monkeypatch.setattr(timezone, "now", lambda: datetime(2027, 9, 8, 9, tzinfo=UTC))
    address = reverse("reminders:change", args=[row("pickup-1").pk])
    browser = signed_in(perpetua)

    kept = read(browser.get(address))
    typed = read(browser.post(address, SAID | {"days": "5", "look": "yes"}))
    refused = read(browser.post(address, SAID | {"days": "7", "look": "yes"}))

    assert "This would have gone to nobody last week." in kept
    assert "It will go to 1 person, as things stand now." in kept
    assert "<strong>Sunniva Okparadine</strong>, Fri 10 Sep" in kept
    assert "As it is typed, and not saved: 5 days before pickup, at 07:00" in typed
    assert "With the next round, within a minute of it being on:" in typed
    assert "already" in refused
    assert row("pickup-1").days == -1


def test_a_warning_that_is_told_at_once_cannot_be_foretold(signed_in, perpetua, row):
    page = read(signed_in(perpetua).get(reverse("reminders:change", args=[row("fault").pk])))

    assert "It went to nobody." in page
    assert "nobody can say beforehand whom it will tell" in page
    assert 'name="days"' not in page
