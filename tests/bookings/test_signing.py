"""Who signs for a booking: nobody is lost who still signs, and another may take it over."""

import pytest

from kitshare.bookings import signing
from kitshare.bookings.refusals import ChangedMeanwhile, DoesNotSign, NotAtThisStage, NotTheirs
from kitshare.logbook.models import Entry
from kitshare.outbox.models import Message
from kitshare.people.models import Member

pytestmark = pytest.mark.django_db


def keep(member, **changed):
    names = ("name", "email", "telephone", "coordinates", "borrows", "maintains", "is_active")
    facts = {name: getattr(member, name) for name in names}
    return {"member": member, "villages": list(member.villages.all())} | facts | changed


@pytest.fixture
def hamza(sorrelhythe) -> Member:
    """Signs for Sorrelhythe too."""
    member = Member.objects.create(name="Hamza Wetherlow", email="hamza@example.org", borrows=True)
    sorrelhythe.borrowers.add(member)
    return member


@pytest.mark.parametrize(
    ("change", "field"),
    [
        ({"is_active": False}, "is_active"),
        ({"borrows": False, "villages": []}, "borrows"),
        ({"villages": []}, "villages"),
    ],
)
def test_whoever_signs_for_a_booking_that_is_not_over_stays(agreed, sunniva, perpetua, now, change, field):
    booking = agreed()

    with pytest.raises(signing.StillSigns, match=r"Sorrelhythe, Sat 11 Sep 2027.*who signs instead") as refusal:
        signing.change_member(**keep(sunniva, **change), by=perpetua, at=now)

    assert refusal.value.field == field
    assert refusal.value.bookings == [booking]
    assert signing.change_member(**keep(sunniva, telephone="01632 960 777"), by=perpetua, at=now).telephone


def test_a_village_keeps_whoever_signs_for_its_booking(agreed, sorrelhythe, sunniva, hamza, perpetua, now):
    agreed()
    facts = {"village": sorrelhythe, "name": "Sorrelhythe", "note": "", "by": perpetua, "at": now}

    with pytest.raises(signing.StillSigns) as refusal:
        signing.change_village(**facts, borrowers=[hamza])

    assert refusal.value.field == "borrowers"
    signing.change_village(**facts, borrowers=[sunniva])
    assert list(sorrelhythe.borrowers.all()) == [sunniva]


def test_signed_over_to_another_the_first_may_go(agreed, sunniva, hamza, perpetua, now):
    booking = agreed()
    Message.objects.all().delete()

    after = signing.sign_over(booking=booking, borrower=hamza, by=perpetua, at=now, revision=booking.revision)
    signing.change_member(**keep(sunniva, is_active=False), by=perpetua, at=now)

    assert after.borrower == hamza
    told = {message.to_name: message for message in Message.objects.all()}
    assert set(told) == {"Hamza Wetherlow", "Sunniva Okparadine"}
    assert "METHOD:REQUEST" in told["Hamza Wetherlow"].calendar
    assert not told["Sunniva Okparadine"].calendar
    line = Entry.objects.about(booking).get(deed="booking_signed_over")
    assert "Hamza Wetherlow instead of Sunniva Okparadine" in line.text


def test_only_one_who_signs_for_the_village_takes_it_over(agreed, leilani, fennerlow, hamza, perpetua, now):
    booking = agreed()
    over = {"booking": booking, "at": now, "revision": booking.revision}

    with pytest.raises(DoesNotSign):
        signing.sign_over(**over, borrower=leilani, by=perpetua)
    with pytest.raises(NotTheirs):
        signing.sign_over(**over, borrower=hamza, by=leilani)
    with pytest.raises(ChangedMeanwhile):
        signing.sign_over(**(over | {"revision": 1}), borrower=hamza, by=perpetua)
    Member.objects.filter(pk=hamza.pk).update(is_active=False)
    with pytest.raises(DoesNotSign):
        signing.sign_over(**over, borrower=hamza, by=perpetua)


def test_what_is_over_stays_signed_as_it_was(ask, hamza, perpetua, now):
    booking = ask()
    type(booking).objects.filter(pk=booking.pk).update(stage="closed")

    with pytest.raises(NotAtThisStage):
        signing.sign_over(booking=booking, borrower=hamza, by=perpetua, at=now, revision=booking.revision)
