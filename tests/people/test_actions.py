"""Members, villages and the scheme: each change, each refusal, and what the logbook keeps of it."""

import uuid
from decimal import Decimal

import pytest
from django.db import IntegrityError, transaction

from kitshare.logbook.models import Entry
from kitshare.people import actions as people
from kitshare.people import feed_addresses
from kitshare.people.models import Member, Scheme
from kitshare.people.refusals import (
    AddressTaken,
    LastCoordinator,
    SchemeExists,
    SignsWithoutBorrowing,
    VillageNameTaken,
)

pytestmark = pytest.mark.django_db


def start(now, **changed):
    facts = {
        "name": "Linnow Vale Pressing Share",
        "telephone": "01632 960 123",
        "time_zone": "Europe/London",
        "units": "metric",
        "coordinator_name": "Perpetua Quillstone",
        "coordinator_email": "perpetua@example.org",
        "password": "cloth and rack",
    }
    return people.start_scheme(**(facts | changed), at=now)


def keep(member, **changed):
    """The arguments of `change_member` that leave everything as it is, but for those given."""
    facts = {
        name: getattr(member, name)
        for name in ("name", "email", "telephone", "coordinates", "borrows", "maintains", "is_active")
    }
    return {"member": member, "villages": list(member.villages.all())} | facts | changed


def test_a_scheme_starts_with_a_coordinator_who_can_sign_in(now):
    started = start(now)

    assert started.scheme.pk == 1
    assert started.coordinator.coordinates
    assert started.coordinator.check_password("cloth and rack")
    assert Entry.objects.about(started.scheme).get().by_name == "Perpetua Quillstone"


def test_a_second_scheme_is_refused_and_leaves_nothing_behind(now, scheme):
    with pytest.raises(SchemeExists):
        start(now)

    assert Scheme.objects.count() == 1
    assert not Member.objects.exists()


def test_the_database_itself_holds_one_scheme(scheme):
    with pytest.raises(IntegrityError, match="one_scheme_a_site"), transaction.atomic():
        Scheme.objects.create(pk=2, name="Another", telephone="1")


def test_a_changed_setting_is_written_with_what_it_was(scheme, perpetua, now):
    people.change_scheme(
        scheme=scheme,
        name=scheme.name,
        telephone=scheme.telephone,
        time_zone="UTC",
        units="metric",
        crate_kg=Decimal("18"),
        sack_kg=scheme.sack_kg,
        pomace_sack_kg=scheme.pomace_sack_kg,
        offer_hours=scheme.offer_hours,
        by=perpetua,
        at=now,
    )

    assert Scheme.objects.get().crate_kg == Decimal("18")
    assert "kilograms in a crate: 16" in Entry.objects.about(scheme).get().text


def test_a_member_without_an_address_is_telephoned_and_cannot_sign_in(perpetua, now):
    emrys = people.add_member(
        name="Emrys ap Ferrow", email="", telephone="01632 960 300", borrows=True, by=perpetua, at=now
    )
    marek = people.add_member(name="Marek Ostrowick", email=None, telephone="01632 960 301", by=perpetua, at=now)

    assert emrys.email is None
    assert marek.email is None
    assert not emrys.has_usable_password()


def test_an_address_is_used_once_whatever_its_case(perpetua, sunniva, now):
    with pytest.raises(AddressTaken) as refusal:
        people.add_member(name="Other", email="SUNNIVA@Example.org", telephone="", by=perpetua, at=now)

    assert refusal.value.address == "SUNNIVA@Example.org"
    assert not Member.objects.filter(name="Other").exists()


def test_the_database_itself_refuses_an_address_in_another_case(sunniva):
    with pytest.raises(IntegrityError), transaction.atomic():
        Member.objects.create(name="Other", email="Sunniva@EXAMPLE.org")


@pytest.mark.parametrize("change", [{"coordinates": False}, {"is_active": False}, {"email": None}])
def test_the_last_coordinator_stays(perpetua, now, change):
    with pytest.raises(LastCoordinator, match="Perpetua Quillstone is the only coordinator"):
        people.change_member(**keep(perpetua, **change), by=perpetua, at=now)


@pytest.mark.parametrize("change", [{"coordinates": False}, {"is_active": False}, {"email": None}])
def test_a_coordinator_may_stop_when_another_can_sign_in(perpetua, now, change):
    idris = people.add_member(
        name="Idris Vellacombe", email="idris@example.org", telephone="", coordinates=True, by=perpetua, at=now
    )

    people.change_member(**keep(perpetua, **change), by=idris, at=now)

    assert not Member.objects.coordinating().exclude(email=None).filter(pk=perpetua.pk).exists()


@pytest.mark.parametrize("standing", [{"is_active": False}, {"email": None}])
def test_a_coordinator_who_cannot_sign_in_does_not_count(perpetua, now, standing):
    idris = people.add_member(
        name="Idris Vellacombe", email="idris@example.org", telephone="", coordinates=True, by=perpetua, at=now
    )
    people.change_member(**keep(idris, **standing), by=perpetua, at=now)

    with pytest.raises(LastCoordinator):
        people.change_member(**keep(perpetua, coordinates=False), by=perpetua, at=now)


def test_who_signs_for_a_village_is_a_borrower(perpetua, sunniva, sorrelhythe, teodor, now):
    with pytest.raises(SignsWithoutBorrowing):
        people.change_member(**keep(sunniva, borrows=False), by=perpetua, at=now)
    with pytest.raises(SignsWithoutBorrowing):
        people.change_village(
            village=sorrelhythe, name="Sorrelhythe", note="", borrowers=[sunniva, teodor], by=perpetua, at=now
        )

    people.change_member(**keep(sunniva, borrows=False, villages=[]), by=perpetua, at=now)
    assert not sorrelhythe.borrowers.exists()


def test_a_change_of_villages_shows_in_the_history_of_each(perpetua, sunniva, sorrelhythe, fennerlow, now):
    people.change_member(**keep(sunniva, villages=[fennerlow]), by=perpetua, at=now)

    assert list(sunniva.villages.all()) == [fennerlow]
    assert Entry.objects.about(sorrelhythe).count() == 1
    assert Entry.objects.about(fennerlow).count() == 1
    assert "villages they sign for" in Entry.objects.about(sunniva).get().text


def test_a_member_corrects_their_own_facts_and_no_role(sunniva, sorrelhythe, now):
    stale = Member.objects.get(pk=sunniva.pk)
    stale.coordinates = True

    people.change_own_facts(member=stale, name="Sunniva O.", email=sunniva.email, telephone="1", at=now)

    sunniva.refresh_from_db()
    assert (sunniva.name, sunniva.telephone, sunniva.coordinates) == ("Sunniva O.", "1", False)
    assert list(sunniva.villages.all()) == [sorrelhythe]


def test_the_logbook_never_holds_a_password_a_token_or_an_address(perpetua, sunniva, sorrelhythe, now):
    people.set_password(member=sunniva, password="apple butter day", by=perpetua, at=now)
    token = feed_addresses.renew_feed_token(of=sorrelhythe, by=perpetua, at=now)
    people.change_member(**keep(sunniva, email="new@example.org", telephone="01632 960 777"), by=perpetua, at=now)

    written = " ".join(Entry.objects.values_list("text", flat=True))
    assert Entry.objects.count() == 3
    for secret in ("apple butter day", token, "new@example.org", "01632 960 777"):
        assert secret not in written


def test_a_new_password_works_and_the_old_one_does_not(perpetua, sunniva, now):
    people.set_password(member=sunniva, password="apple butter day", by=perpetua, at=now)

    sunniva.refresh_from_db()
    assert sunniva.check_password("apple butter day")
    assert not sunniva.check_password("cloth and rack")


def test_a_feed_has_a_new_address_when_renewed(perpetua, scheme, sorrelhythe, now):
    before = {scheme.feed_token, sorrelhythe.feed_token}

    after = {feed_addresses.renew_feed_token(of=thing, by=perpetua, at=now) for thing in (scheme, sorrelhythe)}

    assert len(after) == 2
    assert not before & after


def test_a_village_has_a_name_of_its_own(perpetua, sorrelhythe, now):
    with pytest.raises(VillageNameTaken):
        people.add_village(name="SORRELHYTHE", by=perpetua, at=now)

    accent = people.add_village(name="Tŷ-Ferrow", by=perpetua, at=now)
    assert accent.pk


def test_a_village_leaves_and_comes_back(perpetua, sorrelhythe, now, today):
    people.village_leaves(village=sorrelhythe, on=today, by=perpetua, at=now)
    assert sorrelhythe not in list(type(sorrelhythe).objects.borrowing())

    people.village_returns(village=sorrelhythe, by=perpetua, at=now)
    assert sorrelhythe in list(type(sorrelhythe).objects.borrowing())


def test_a_change_that_changes_nothing_is_not_written(perpetua, sunniva, sorrelhythe, now):
    people.change_member(**keep(sunniva), by=perpetua, at=now)
    people.change_village(village=sorrelhythe, name="Sorrelhythe", note="", borrowers=[sunniva], by=perpetua, at=now)

    assert not Entry.objects.exists()


def test_a_form_sent_twice_adds_one_member_and_sent_with_another_name_adds_another(now, perpetua):
    key = uuid.uuid4()

    def add(name):
        return people.add_member(name=name, email=None, telephone="01632 960 111", by=perpetua, at=now, form_key=key)

    first, second, other = add("Emrys ap Ferrow"), add("Emrys ap Ferrow"), add("Gwennol Trevassick")

    assert first == second != other
    assert Entry.objects.filter(deed="member_added").count() == 2
