"""The first run: open only while there is no scheme, all of it or nothing, and what was typed is kept."""

import html
import re
import zoneinfo

import pytest
from django.db import connection
from django.urls import reverse

from kitshare.bookings.models import Season
from kitshare.keeping import facts
from kitshare.kits import actions as kits
from kitshare.kits.models import Depot, Kit, Machine
from kitshare.kits.saving import KitsRefused
from kitshare.people.models import Member, Scheme
from kitshare.pressdays import beginning
from kitshare.pressdays.models import ContainerKind
from kitshare.pressdays.starter import STARTER_KINDS
from kitshare.web.setup.zones import find_zone, zone_names

pytestmark = pytest.mark.django_db

TYPED = {
    "name": "Linnow Vale Pressing Share",
    "time_zone": "london",
    "units": "imperial",
    "coordinator_name": "Perpetua Quillstone",
    "coordinator_email": "perpetua@example.org",
    "telephone": "01632 960 123",
    "password": "apple butter day",
    "again": "apple butter day",
    "depot_name": "Old Goods Shed",
    "depot_directions": "Behind the station.",
    "season_name": "Autumn 2027",
    "opens_on": "2027-08-15",
    "closes_on": "2027-11-30",
    "machines": ["mill", "press"],
    "kit_name": "Heron",
}


@pytest.fixture
def first_run() -> str:
    return reverse("setup:first_run")


def text(answer) -> str:
    return answer.content.decode()


def test_an_empty_start_has_no_accounts_and_leads_everybody_to_the_first_run(client, first_run):
    assert not Member.objects.exists()
    for name in ("home:home", "people:sign_in", "people:members", "setup:scheme"):
        answer = client.get(reverse(name))
        assert answer.status_code == 302
        assert answer["Location"] == first_run

    page = text(client.get(first_run))
    assert "Start your scheme" in page
    assert "linnow-apples" not in page


def test_a_new_scheme_has_the_usual_containers_to_plan_with(client, first_run):
    client.post(first_run, TYPED)

    assert {kind.name for kind in STARTER_KINDS} == set(ContainerKind.objects.values_list("name", flat=True))


def test_everything_that_is_wrong_is_said_at_once(client, first_run):
    wrong = {"again": "other", "time_zone": "Gotham", "closes_on": "2027-08-01", "kit_name": "", "depot_name": ""}

    errors = client.post(first_run, TYPED | wrong).context["form"].errors

    assert set(errors) == set(wrong)


def test_the_scheme_starts_and_the_coordinator_is_signed_in(client, first_run):
    answer = client.post(first_run, TYPED, follow=True)

    scheme = Scheme.objects.get()
    assert answer.redirect_chain == [(reverse("setup:what_next"), 302)]
    assert answer.wsgi_request.user.email == "perpetua@example.org"
    assert (scheme.time_zone, scheme.units, scheme.is_demonstration) == ("Europe/London", "imperial", False)
    assert Depot.objects.get().name == "Old Goods Shed"
    assert str(Season.objects.get().period.start) == "2027-08-15"
    assert Kit.objects.get().name == "Heron"
    assert set(Machine.objects.values_list("kind", flat=True)) == {"mill", "press"}
    assert all(machine.parts.exists() for machine in Machine.objects.all())
    assert "Heron" in text(answer)


def test_machines_may_come_later(client, first_run):
    client.post(first_run, TYPED | {"machines": [], "kit_name": ""})

    assert Scheme.objects.exists()
    assert not Kit.objects.exists()


def test_when_the_last_step_fails_nothing_is_there(client, first_run, monkeypatch):
    def refuse(**_facts):
        raise KitsRefused("The starter list is gone.")

    monkeypatch.setattr(kits, "add_starter_machines", refuse)
    answer = client.post(first_run, TYPED)

    assert "The starter list is gone." in text(answer)
    for model in (Scheme, Member, Depot, Season, Kit):
        assert not model.objects.exists()


REFUSED = [
    ({"time_zone": "Atlantis"}, "No time zone is called Atlantis"),
    ({"password": "short", "again": "short"}, "too short"),
    ({"again": "apple butter"}, "The two passwords differ."),
    ({"password": "perpetua@example.org", "again": "perpetua@example.org"}, "too similar"),
    ({"closes_on": "2027-08-14"}, "not before its first day"),
    ({"closes_on": "2072-11-30"}, "A season lasts a year at most."),
    ({"closes_on": "9999-12-31"}, "less than or equal to"),
    ({"opens_on": "soon"}, "valid date"),
    ({"machines": ["tractor"]}, "not one of the available choices"),
    ({"kit_name": ""}, "Give the kit in which these machines travel a name."),
    ({"machines": []}, "Tick what is in the kit"),
    ({"units": "bushels"}, "not one of the available choices"),
    ({"coordinator_email": "perpetua"}, "valid email"),
    ({"name": "\x00"}, "Null characters"),
]


@pytest.mark.parametrize(("change", "words"), REFUSED)
def test_a_refused_form_starts_nothing_and_keeps_everything_but_the_passwords(client, first_run, change, words):
    answer = client.post(first_run, TYPED | change)

    page = text(answer)
    assert answer.status_code == 200
    assert words in page
    assert not Scheme.objects.exists()
    for name in set(TYPED) - set(change) - {"password", "again", "machines", "units", "depot_directions"}:
        assert f'name="{name}" value="{TYPED[name]}"' in page
    assert "Behind the station." in page
    if "machines" not in change:
        assert re.search(r'name="machines" value="mill"[^>]*checked', page)
    assert "apple butter" not in page
    assert "except the passwords" in page


def test_a_script_is_shown_as_text(client, first_run):
    page = text(client.post(first_run, dict.fromkeys(TYPED, '"><script>alert(1)</script>')))

    assert "<script>alert" not in page


def test_once_there_is_a_scheme_the_page_is_gone(client, first_run, scheme):
    assert client.get(first_run)["Location"] == reverse("home:home")


def test_who_comes_second_is_told_that_the_scheme_exists(client, first_run, scheme):
    answer = client.post(first_run, TYPED)

    assert answer.status_code == 409
    assert "The scheme exists already" in text(answer)
    assert Scheme.objects.count() == 1
    assert not Member.objects.exists()


def test_who_comes_second_by_a_moment_is_told_so_too(client, first_run, monkeypatch):
    begin = beginning.begin

    def both(**facts):
        begin(**facts)
        return begin(**facts)

    monkeypatch.setattr(beginning, "begin", both)
    answer = client.post(first_run, TYPED)

    assert answer.status_code == 409
    assert Member.objects.count() == 1


def test_a_public_site_without_a_word_says_how_to_set_one(client, first_run, settings):
    settings.BEHIND_TLS = True

    for answer in (client.get(first_run), client.post(first_run, TYPED)):
        assert answer.status_code == 403
        assert "KITSHARE_SETUP_WORD" in text(answer)
    assert not Scheme.objects.exists()


def test_with_a_word_set_only_who_knows_it_starts_the_scheme(client, first_run, settings):
    settings.SETUP_WORD = "quince"

    missing = client.post(first_run, TYPED)
    wrong = client.post(first_run, TYPED | {"setup_word": "medlar"})
    assert "This field is required." in text(missing)
    assert "This is not the setup word of this server." in text(wrong)
    assert not Scheme.objects.exists()

    client.post(first_run, TYPED | {"setup_word": "quince"})
    assert Scheme.objects.exists()


def test_guessing_the_word_is_slowed_down(client, first_run, settings):
    settings.SETUP_WORD = "quince"
    for _ in range(5):
        client.post(first_run, TYPED | {"setup_word": "medlar"})

    answer = client.post(first_run, TYPED | {"setup_word": "quince"})

    assert "Too many tries went wrong." in text(answer)
    assert not Scheme.objects.exists()


@pytest.mark.parametrize(
    ("typed", "zone"),
    [
        ("Europe/London", "Europe/London"),
        (" europe / london ", "Europe/London"),
        ("new york", "America/New_York"),
        ("utc", "UTC"),
        ("", None),
        ("Atlantis", None),
        ("/", None),
    ],
)
def test_a_zone_is_found_by_what_people_type(typed, zone):
    assert find_zone(typed) == zone


def test_every_zone_offered_is_one_that_the_clock_knows():
    assert len(zone_names()) > 300
    assert all(zoneinfo.ZoneInfo(name) for name in zone_names())
    assert all(find_zone(name) == name for name in zone_names())


def test_it_says_how_a_site_that_was_here_before_is_brought_back_and_looking_leaves_the_place_empty(
    client, first_run, settings, monkeypatch
):
    monkeypatch.setenv("KITSHARE_DATA", "/srv/the press's data")
    page = html.unescape(text(client.get(first_run)))

    assert "KITSHARE_DATA='/srv/the press'\"'\"'s data' " in page
    assert " manage.py restore FILE</code>" in page
    assert facts.filled_tables(connection) == []

    settings.BEHIND_TLS, settings.SETUP_WORD = True, "a word"
    page = text(client.get(first_run, secure=True))
    assert '<code class="typed">manage.py restore FILE</code>' in page
    assert "/srv/" not in page
