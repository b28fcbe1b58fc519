"""A check that was signed on paper, typed in afterwards with its own day and who signed."""

from datetime import timedelta

import pytest
from django.urls import reverse

from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault

pytestmark = pytest.mark.django_db


@pytest.fixture
def later(monkeypatch, now):
    """It is Monday 6 September by now, and the booking ran to Saturday morning."""
    monday = now + timedelta(days=5)
    monkeypatch.setattr("django.utils.timezone.now", lambda: monday)
    return monday


@pytest.fixture
def type_in(signed_in, perpetua, pickup_address, filled):
    def type_in(address=pickup_address, *, by=perpetua, **changes):
        paper = {"paper": "1", "paper_on": "2027-09-01", "paper_at": "10:05", "deed": "finish"}
        return signed_in(by).post(address, filled(**(paper | changes)))

    return type_in


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def stage_of(booking):
    booking.refresh_from_db()
    return booking.stage


def test_both_ends_are_typed_in_with_their_own_moments_and_names(
    type_in, later, agreed_booking, return_address, client, perpetua
):
    out = type_in()
    back = type_in(return_address, paper_on="2027-09-04", paper_at="09:00", signed_name="Agnes Pellowmere")

    assert (out.status_code, back.status_code) == (302, 302)
    pickup, return_ = HandoverCheck.objects.order_by("pk")
    assert [f"{one.done_at:%d %H:%M} {one.signed_name}" for one in (pickup, return_)] == [
        "01 10:05 Sunniva Okparadine",
        "04 09:00 Agnes Pellowmere",
    ]
    assert (pickup.by, pickup.written_at, pickup.on_paper) == (perpetua, later, True)
    assert stage_of(agreed_booking) == Stage.BACK
    assert agreed_booking.days.filter(kind="booked").count() == 2 * 3
    said = Entry.objects.get(deed="pickup_checked").text
    assert "Signed on paper at Wed 1 Sep, 10:05, typed in by Perpetua Quillstone." in said
    assert "typed in by Perpetua Quillstone, Mon 6 Sep" in words(client.get(out["Location"]))


def test_the_sheet_for_a_paper_opens_for_a_coordinator_after_the_days_are_over_and_for_nobody_else(
    later, signed_in, perpetua, sunniva, pickup_address
):
    shut = words(signed_in(perpetua).get(pickup_address))
    page = words(signed_in(perpetua).get(f"{pickup_address}?paper=1"))
    others = words(signed_in(sunniva).get(f"{pickup_address}?paper=1"))

    assert '<a class="button button-second" href="?paper=1">' in shut
    assert "This was on paper" in page
    assert 'value="2027-09-01"' in page
    assert "data-part" not in others


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"paper_on": ""}, "This field is required."),
        ({"paper_on": "2027-09-07"}, "This is still to come."),
        ({"paper_on": "2027-08-30"}, "This booking runs from Tue 31 Aug"),
        ({"paper_on": "2027-09-04"}, "This booking runs from Tue 31 Aug"),
        ({"paper_at": "noonish"}, "Write the time as hours and minutes"),
        ({"paper_at": ""}, "This field is required."),
    ],
)
def test_a_day_that_cannot_be_is_said_by_the_field_and_all_stays_typed(
    changes, said, type_in, later, agreed_booking, other, lead
):
    answer = type_in(**changes, **other(lead, "worn", note="Frayed"))

    page = words(answer)
    assert said in page
    assert 'value="Frayed"' in page
    assert 'name="paper" value="1"' in page
    assert stage_of(agreed_booking) == Stage.AGREED


def test_a_return_is_not_before_its_pickup(type_in, later, return_address, agreed_booking):
    type_in()

    answer = type_in(return_address, paper_on="2027-09-01", paper_at="08:00")

    assert "The kit went out only at Wed 1 Sep, 10:05" in words(answer)
    assert stage_of(agreed_booking) == Stage.OUT


def test_what_a_borrower_sends_as_paper_counts_as_signed_now(type_in, sunniva, now):
    type_in(by=sunniva)

    check = HandoverCheck.objects.get()
    assert (check.done_at, check.on_paper) == (now, False)


@pytest.mark.parametrize("reason", ["part", "fault"])
def test_what_stops_it_is_asked_about_once_more_and_then_recorded_as_done_in_spite(
    reason, type_in, later, agreed_booking, other, drive_pin, mill, teodor, perpetua, now
):
    wrong = other(drive_pin, "missing") if reason == "part" else {}
    if reason == "fault":
        upkeep.report_fault(machine=mill, part=None, note="Nicked", severity=Severity.STOPS_USE, by=teodor, at=now)

    asked = type_in(**wrong)
    assert 'name="deed" value="in_spite"' in words(asked)
    assert stage_of(agreed_booking) == Stage.AGREED

    type_in(deed="in_spite", **wrong)

    check = HandoverCheck.objects.get()
    assert ("Drive pin is missing." if reason == "part" else "Nicked") in check.in_spite
    assert stage_of(agreed_booking) == Stage.OUT
    assert Fault.objects.count() == 1
    assert Message.objects.filter(key=f"out-in-spite:{check.key}:{perpetua.pk}").exists()


def test_nobody_goes_in_spite_without_a_paper(type_in, agreed_booking, other, drive_pin):
    type_in(paper="", deed="in_spite", in_spite="1", **other(drive_pin, "missing"))

    assert stage_of(agreed_booking) == Stage.AGREED


def test_parts_without_a_tick_are_asked_for_unless_they_have_none_on_the_paper_either(
    type_in, later, lead, guard, agreed_booking, signed_in, perpetua
):
    bare = {f"p{lead.pk}-seen": "", f"p{guard.pk}-seen": ""}
    asked = type_in(**bare)
    assert "Feed guard: not looked at yet." in words(asked)

    asked_again = type_in(paper_unseen="on", **bare)
    check = HandoverCheck.objects.get()

    assert asked_again.status_code == 302
    assert list(check.not_seen.order_by("pk")) == [guard, lead]
    assert check.in_spite == "Feed guard: nobody looked at it."
    page = words(signed_in(perpetua).get(reverse("checks:show", args=[check.pk])))
    assert "<dt>Not looked at</dt><dd>Feed guard, Mill lead</dd>" in page
