"""The logbook page: who reads it, how it is searched, and that no address breaks it."""

from datetime import timedelta

import pytest
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains

from kitshare.logbook.actions import write

pytestmark = pytest.mark.django_db

PAGE = "/logbook/"


@pytest.fixture
def lines(heron, otter, mill, drive_pin, perpetua, teodor, now):
    """Perpetua on 1 September about Heron, Teodor on the 2nd about the drive pin, the site on the 3rd about nobody."""
    day = timedelta(days=1)
    write(deed="kit_changed", text="A new tyre for Heron.", about=[heron], by=perpetua, at=now)
    write(deed="spare_fitted", text="A spare pin.", about=[drive_pin, mill, heron], by=teodor, at=now + day)
    write(deed="told", text="Told Sorrelhythe.", about=[], by=None, at=now + 2 * day)


def _shown(answer) -> list[str]:
    page = answer.content.decode()
    return [text for text in ("A new tyre for Heron.", "A spare pin.", "Told Sorrelhythe.") if text in page]


def test_only_those_who_run_the_scheme_read_it(signed_in, sunniva, teodor, perpetua, client):
    assert client.get(PAGE).status_code == 302
    assert signed_in(sunniva).get(PAGE).status_code == 403
    assert signed_in(teodor).get(PAGE).status_code == 200
    assert signed_in(perpetua).get(PAGE).status_code == 200


def test_an_empty_logbook_says_what_fills_it(signed_in, perpetua):
    assertContains(signed_in(perpetua).get(reverse("logbook:list")), "Nothing is written yet.")


def test_the_newest_line_comes_first(signed_in, perpetua, lines):
    page = signed_in(perpetua).get(PAGE).content.decode()

    assert page.index("Told Sorrelhythe.") < page.index("A spare pin.") < page.index("A new tyre")
    assert "Kitshare" in page


@pytest.mark.parametrize(
    ("search", "found"),
    [
        ({"words": "TYRE"}, ["A new tyre for Heron."]),
        ({"who": "haskerby"}, ["A spare pin."]),
        ({"kind": "kits.part"}, ["A spare pin."]),
        ({"kind": "kits.kit"}, ["A new tyre for Heron.", "A spare pin."]),
        ({"since": "2027-09-02"}, ["A spare pin.", "Told Sorrelhythe."]),
        ({"until": "2027-09-02"}, ["A new tyre for Heron.", "A spare pin."]),
        ({"since": "2027-09-02", "until": "2027-09-02"}, ["A spare pin."]),
        ({"kind": "kits.kit", "who": "Perpetua"}, ["A new tyre for Heron."]),
    ],
)
def test_it_is_searched_by_words_person_thing_and_days(signed_in, perpetua, lines, search, found):
    assert _shown(signed_in(perpetua).get(PAGE, search)) == found


def test_a_day_is_a_day_of_the_schemes_own_clock(signed_in, perpetua, scheme, heron, now):
    scheme.time_zone = "Pacific/Auckland"
    scheme.save()
    write(
        deed="x", text="A new tyre for Heron.", about=[heron], by=perpetua, at=now.replace(hour=13)
    )  # 01:00 on the 2nd

    assert _shown(signed_in(perpetua).get(PAGE, {"since": "2027-09-02"})) == ["A new tyre for Heron."]
    assert _shown(signed_in(perpetua).get(PAGE, {"until": "2027-09-01"})) == []


def test_a_search_that_finds_nothing_says_so(signed_in, perpetua, lines):
    assertContains(signed_in(perpetua).get(PAGE, {"words": "walrus"}), "No line fits.", count=1)


@pytest.mark.parametrize(
    "search",
    [
        {"since": "yesterday"},
        {"until": "9999-12-31"},
        {"since": "0001-01-01"},
        {"kind": "kits.rocket"},
        {"since": "2027-09-03", "until": "2027-09-01"},
        {"words": "a\x00b"},
        {"who": "x" * 200},
    ],
)
def test_a_search_that_makes_no_sense_is_refused_and_stays(signed_in, perpetua, lines, search):
    answer = signed_in(perpetua).get(PAGE, search)

    assertContains(answer, "There is a problem")
    for name, typed in search.items():
        if name != "kind":
            assertContains(answer, f'value="{typed}"')


@pytest.mark.parametrize(
    "query", ["page=0", "page=-1", "page=x", "page=99999", "sort=text", "sort=nonsense", "sort=--at"]
)
def test_no_address_breaks_it(signed_in, perpetua, lines, query):
    assert signed_in(perpetua).get(f"{PAGE}?{query}").status_code == 200


def test_script_in_a_line_is_shown_and_not_run(signed_in, perpetua, heron, now):
    write(deed="x", text="<script>alert(1)</script>", about=[heron], by=perpetua, at=now)

    answer = signed_in(perpetua).get(PAGE, {"words": "<script>"})

    assertContains(answer, "&lt;script&gt;alert(1)")
    assertNotContains(answer, "<script>alert")


def test_lines_lead_to_the_pages_of_what_they_are_about(signed_in, perpetua, lines, drive_pin, heron):
    answer = signed_in(perpetua).get(PAGE)

    assertContains(answer, reverse("kits:part", args=[drive_pin.pk]))
    assertContains(answer, reverse("kits:show", args=[heron.pk]))


def test_it_is_paged_and_costs_the_same_at_one_line_and_at_sixty(
    signed_in, perpetua, heron, now, django_assert_num_queries
):
    client = signed_in(perpetua)
    write(deed="x", text="Line one.", about=[heron], by=perpetua, at=now)
    with django_assert_num_queries(6):
        client.get(PAGE)

    for number in range(60):
        write(deed="x", text=f"Line {number}.", about=[heron], by=perpetua, at=now)

    with django_assert_num_queries(6):
        answer = client.get(PAGE)
    assertContains(answer, 'data-word="What"', count=25)
    assertContains(client.get(PAGE, {"page": 3, "words": "Line"}), 'data-word="What"', count=11)
