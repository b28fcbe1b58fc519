"""The coordinator's pages about kinds of container."""

import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.pressdays.models import ContainerKind
from tests.web.pressdays.test_plan import words

pytestmark = pytest.mark.django_db

LIST = "/press-days/containers/"
GOOD = {
    "name": "1 L jar",
    "litres": "0,95",
    "material": "glass",
    "food_grade": "on",
    "highest_fill_c": "",
    "usual_use": "frozen",
    "fill_fraction": "0.9",
    "tare_kg": "0,4",
    "per_crate": "6",
    "capped": "on",
    "lent": "40",
    "usual_parts": "0",
    "position": "3",
}


@pytest.fixture
def coordinator(signed_in, perpetua):
    return signed_in(perpetua)


def test_the_first_visit_offers_a_starter_set(coordinator):
    empty = coordinator.get(LIST)
    filled = coordinator.post(reverse("pressdays:starter_kinds"), follow=True)

    assert "There are none yet, so bookings show juice but no containers." in words(empty)
    assert "Added 6 kinds of container." in words(filled)
    assert "25 L fermenter" in words(filled)


def test_a_kind_is_added_with_a_comma_for_the_point(coordinator):
    answer = coordinator.post(f"{LIST}new/", GOOD, follow=True)

    assert "Added 1 L jar. Villages can plan with it now." in words(answer)
    kind = ContainerKind.objects.get()
    assert (str(kind.litres), str(kind.tare_kg), kind.highest_fill_c) == ("0.95", "0.400", None)
    assert (kind.material, kind.usual_use, kind.per_crate, kind.lent, kind.capped) == ("glass", "frozen", 6, 40, True)


BAD_INPUT = [
    ("name", ""),
    ("name", "x" * 61),
    ("litres", "0"),
    ("litres", "-1"),
    ("litres", "1200.1"),
    ("litres", "abc"),
    ("litres", "1e99999"),
    ("fill_fraction", "0.4"),
    ("fill_fraction", "NaN"),
    ("fill_fraction", "1.1"),
    ("highest_fill_c", "-1"),
    ("highest_fill_c", "151"),
    ("highest_fill_c", "hot"),
    ("tare_kg", ""),
    ("tare_kg", "201"),
    ("per_crate", "0"),
    ("per_crate", "101"),
    ("lent", "-1"),
    ("lent", "20001"),
    ("lent", "a few"),
    ("usual_parts", "-1"),
    ("usual_parts", "101"),
    ("position", "9" * 30),
    ("position", "first"),
]


@pytest.mark.parametrize("change", [False, True])
def test_bad_input_is_refused_by_its_field_and_stays(coordinator, box, change, subtests):
    address = f"{LIST}{box.pk}/" if change else f"{LIST}new/"

    for field, value in BAD_INPUT:
        with subtests.test(field=field, value=value):
            answer = coordinator.post(address, GOOD | {field: value})
            page = answer.content.decode()
            assert answer.status_code == 200
            assert f'href="#id_{field}"' in page
            assert f'id="id_{field}_error"' in page
            assert not value or f'value="{value}"' in page
            assert list(ContainerKind.objects.values_list("name", flat=True)) == [box.name]


@pytest.mark.parametrize("change", [False, True])
def test_a_name_that_is_taken_is_refused_by_the_name(coordinator, bottle, box, change):
    address = f"{LIST}{box.pk}/" if change else f"{LIST}new/"

    answer = coordinator.post(address, GOOD | {"name": bottle.name.upper()})

    assert words(answer).count("There is a kind called 0.75 L glass bottle already.") == 2


def test_a_kind_is_changed_and_its_history_says_what(coordinator, box):
    coordinator.post(f"{LIST}{box.pk}/", GOOD | {"name": box.name, "litres": "4.8", "reused_glass": "on"})

    assert "litres when full to the brim: 5.00 → 4.8" in words(coordinator.get(f"{LIST}{box.pk}/"))
    assert ContainerKind.objects.get().reused_glass


def test_what_nobody_has_said_of_a_kind_stands_in_the_form_as_unknown(coordinator):
    page = coordinator.get(f"{LIST}new/").content.decode()

    assert re.search(r'<select name="material"[^>]*>\s*<option value="" selected>unknown</option>', page)


def test_only_glass_is_re_used_glass_and_the_refusal_stands_by_its_field(coordinator, box):
    answer = coordinator.post(f"{LIST}{box.pk}/", GOOD | {"material": "pet", "reused_glass": "on"})

    assert 'id="id_reused_glass_error"' in answer.content.decode()
    assert words(answer).count("Only glass is counted as re-used glass") == 2
    assert ContainerKind.objects.get().name == box.name


def test_the_list_and_the_page_of_a_kind_say_what_it_may_hold_and_why_not(coordinator, box, bottle):
    listed, page = words(coordinator.get(LIST)), words(coordinator.get(f"{LIST}{box.pk}/"))

    assert "heated, fresh, frozen, to ferment" in listed  # the bottle
    assert "no heated: nobody has said what heat it bears; it leaves 0 % of room and the juice needs 2.4 %" in page
    assert "yes fresh" in page


def test_the_list_costs_the_same_for_twelve_kinds_as_for_one(coordinator, add_kind, django_assert_num_queries):
    add_kind("first", "1")
    with CaptureQueriesContext(connection) as few:
        coordinator.get(LIST)
    for number in range(11):
        add_kind(f"kind {number}", "2")

    with django_assert_num_queries(len(few)):
        coordinator.get(LIST)


def test_a_kind_is_retired_and_brought_back(coordinator, box):
    retired = coordinator.post(f"{LIST}{box.pk}/retire/", follow=True)
    page = coordinator.get(f"{LIST}{box.pk}/")
    back = coordinator.post(f"{LIST}{box.pk}/bring-back/", follow=True)

    assert "Retired 5 L bag-in-box. Plans that have it keep it." in words(retired)
    assert "Bring it back" in words(page)
    assert "5 L bag-in-box is in use again." in words(back)


@pytest.mark.parametrize("end", ["", "new/", "1/", "1/retire/", "1/bring-back/", "starter-set/"])
@pytest.mark.parametrize("who", ["sunniva", "teodor"])
def test_only_the_coordinator_keeps_containers(signed_in, request, who, end, box):
    browser = signed_in(request.getfixturevalue(who))
    posts = end.endswith(("retire/", "back/", "set/"))

    answer = browser.post(LIST + end) if posts else browser.get(LIST + end)

    assert answer.status_code == 403
    assert "This page is for the coordinator." in words(answer)


@pytest.mark.parametrize("end", ["", "retire/", "bring-back/"])
def test_a_kind_that_is_not_there_is_not_found(coordinator, end):
    address = f"{LIST}{'9' * 25}/{end}"

    assert (coordinator.post(address) if end else coordinator.get(address)).status_code == 404


@pytest.mark.parametrize("query", ["?sort=-litres", "?sort=nothing", "?page=99", "?page=abc", "?sort=-retired_on"])
def test_any_sorting_or_page_answers(coordinator, bottle, box, query):
    answer = coordinator.get(LIST + query)

    assert answer.status_code == 200
    assert "5 L bag-in-box" in words(answer)


def test_the_list_asks_the_database_as_often_for_twelve_kinds_as_for_one(
    coordinator, add_kind, django_assert_num_queries, django_assert_max_num_queries
):
    add_kind("first", "1")
    with django_assert_max_num_queries(5) as few:
        coordinator.get(LIST)

    for number in range(11):
        add_kind(f"kind {number}", "1")

    with django_assert_num_queries(len(few)):
        coordinator.get(LIST)
