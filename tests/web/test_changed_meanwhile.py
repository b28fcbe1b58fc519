"""Two tabs on one thing: whoever saves second is told what the first changed, keeps what they typed, and may insist."""

from html import unescape

import pytest
from django.urls import reverse

from kitshare.bookings.models import Season
from kitshare.kits.models import Depot, Kit, Machine, Part
from kitshare.people import actions as people
from kitshare.people.models import Member, Scheme, Village
from kitshare.pressdays.models import ContainerKind
from tests.web.page import Page

pytestmark = pytest.mark.django_db

# Each form that changes a thing: its address, whose it is, and the field that both tabs change.
FORMS = {
    "village": ("people:village_change", "sorrelhythe", "name"),
    "member": ("people:member_change", "leilani", "name"),
    "own facts": ("people:me", "perpetua", "name"),
    "scheme": ("setup:scheme", "scheme", "name"),
    "season": ("setup:season_change", "season", "name"),
    "depot": ("kits:depot_change", "depot", "name"),
    "kit": ("kits:kit_change", "heron", "name"),
    "machine": ("kits:machine_change", "mill", "name"),
    "part": ("kits:part_change", "drive_pin", "name"),
    "container": ("pressdays:kind_change", "jug", "name"),
}
MODELS = {
    "village": Village,
    "member": Member,
    "own facts": Member,
    "scheme": Scheme,
    "season": Season,
    "depot": Depot,
    "kit": Kit,
    "machine": Machine,
    "part": Part,
    "container": ContainerKind,
}


@pytest.fixture
def jug(db) -> ContainerKind:
    return ContainerKind.objects.create(name="Jug", litres=2)


@pytest.fixture(params=FORMS)
def opened(request, signed_in, perpetua):
    """A page with a form, opened by a coordinator: how to send it, and the thing it changes."""
    page, fixture, field = FORMS[request.param]
    thing = request.getfixturevalue(fixture)
    address = reverse(page) if request.param in {"own facts", "scheme"} else reverse(page, args=[thing.pk])
    browser = signed_in(perpetua)
    shown = filled_in(browser, address)

    def send(**typed):
        return browser.post(address, shown | typed)

    return send, MODELS[request.param].objects.filter(pk=thing.pk), field


def filled_in(browser, address):
    """What the form of a page would send if nothing were changed."""
    answer = browser.get(address)
    form = answer.context["form"]
    data = {"csrfmiddlewaretoken": ""}
    for bound in form:
        value = bound.value()
        if value is None or value is False:
            continue
        data[bound.html_name] = "on" if value is True else value
        if bound.field.show_hidden_initial:
            data[bound.html_initial_name] = data[bound.html_name]
    assert "seen" in Page(answer.content.decode()).fields, "the page does not carry how far it has seen"
    return data


def test_the_second_tab_is_told_what_the_first_changed_and_may_insist(opened):
    send, things, field = opened
    send(**{field: "The first tab’s"})

    refused = send(**{field: "The second tab’s"})
    page = unescape(refused.content.decode())
    between = getattr(things.get(), field)
    insisted = send(**{field: "The second tab’s", "seen": Page(page).fields["seen"]})

    assert "This was changed after you opened it." in page
    assert "Perpetua Quillstone: Changed " in page or "The first tab’s: Changed" in page
    assert "The first tab’s" in page
    assert 'value="The second tab’s"' in page
    assert "<title>Error:" in page
    assert between == "The first tab’s"
    assert insisted.status_code == 302
    assert getattr(things.get(), field) == "The second tab’s"


def test_the_same_form_sent_twice_is_saved_once_and_nobody_is_refused(opened):
    send, things, field = opened

    answers = [send(**{field: "Once"}), send(**{field: "Once"})]

    assert [answer.status_code for answer in answers] == [302, 302]
    assert getattr(things.get(), field) == "Once"


def test_a_member_made_a_signer_elsewhere_meanwhile_is_not_taken_away_again(
    signed_in, perpetua, sorrelhythe, fennerlow, sunniva, leilani, now
):
    browser = signed_in(perpetua)
    address = reverse("people:member_change", args=[leilani.pk])
    shown = filled_in(browser, address)
    people.change_village(
        village=sorrelhythe, name="Sorrelhythe", note="", borrowers=[sunniva, leilani], by=perpetua, at=now
    )

    page = browser.post(address, shown | {"telephone": "01632 960 999"}).content.decode()

    assert "Changed the village Sorrelhythe" in page
    assert leilani.villages.count() == 2


def test_a_seen_line_that_no_database_can_hold_is_refused_in_words(signed_in, perpetua, sorrelhythe):
    browser = signed_in(perpetua)
    address = reverse("people:village_change", args=[sorrelhythe.pk])

    answer = browser.post(address, {"name": "Sorrel", "seen": "9" * 40})

    assert answer.status_code == 200
    assert Village.objects.get().name == "Sorrelhythe"
