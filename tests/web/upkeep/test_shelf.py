"""The shelf's pages: what lies where, what is short, the deeds on one thing, and the order list."""

import csv
import io

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from kitshare.kits.models import Depot
from kitshare.people.models import Scheme
from kitshare.upkeep import shelf_things
from kitshare.upkeep.shelf_models import ShelfMovement, ShelfPlace, ShelfThing
from tests.web.page import Page


def words_of(answer) -> str:
    return " ".join(answer.content.decode().split())


@pytest.fixture
def add(depot, teodor, now):
    def add_it(name: str = "Sanitiser", count: int = 5, **changes: object) -> ShelfThing:
        facts = {"kind": "consumable", "part": None, "unit": "sachet", "depot": depot, "by": teodor, "at": now}
        return shelf_things.add_thing(name=name, count=count, **(facts | changes))

    return add_it


def test_an_empty_shelf_says_what_belongs_on_it_and_a_spare_is_added_from_its_part(
    signed_in, teodor, drive_pin, sunniva
):
    client = signed_in(teodor)
    assert "Nothing is on the shelf yet" in words_of(client.get("/workbench/shelf/"))
    assert f"/workbench/shelf/new/?part={drive_pin.pk}" in words_of(client.get(f"/kits/parts/{drive_pin.pk}/"))
    form = client.get(f"/workbench/shelf/new/?part={drive_pin.pk}")
    typed = form.context["form"].initial | {"kind": "spare", "unit": "piece", "lead_days": "9", "count": "0"}

    wrong = client.post("/workbench/shelf/new/", typed | {"count": "-1", "kind": "consumable"})
    done = client.post("/workbench/shelf/new/", typed, follow=True)
    again = client.post("/workbench/shelf/new/", typed | {"count": "7"})

    assert 'value="Drive pin, Heron mill"' in words_of(form)
    assert wrong.status_code == 422
    assert "Give a whole number from 0 to 10000." in words_of(wrong)
    assert done.status_code == 200
    assert Page(done.content.decode()).wrong == []
    assert again.status_code == 422
    assert "Spares for Drive pin of Heron mill are on the shelf already" in words_of(again)
    assert "0 on the shelf at Old Goods Shed" in words_of(client.get(f"/kits/parts/{drive_pin.pk}/"))
    assert signed_in(sunniva).get("/workbench/shelf/").status_code == 403


def test_what_is_short_comes_first_at_the_same_cost_for_one_thing_and_for_twelve(signed_in, teodor, season, add):
    client = signed_in(teodor)
    add("Acid", count=50)
    costs = []
    for names in ([], [f"Thing {number}" for number in range(11)]):
        for name in names:
            add(name, count=0)
        with CaptureQueriesContext(
            connection,
        ) as seen:
            page = client.get("/workbench/shelf/")
        costs.append(len(seen))

    said = words_of(page)
    assert costs[0] == costs[1]
    assert said.index("Thing 10") < said.index("Acid")
    assert "11 are under their least count" in said
    # scipy.stats.nbinom.sf([4, 5], 0.5, 0.5 / (0.5 + 1 + 14 / 108)) gives 0.0617 and 0.0399
    assert "keep 5: one season in 25 would need more" in said
    assert Page(page.content.decode()).wrong == []


def test_a_refused_movement_stands_by_its_field_with_what_was_typed(signed_in, teodor, add, depot):
    client, thing = signed_in(teodor), add()
    page = client.get(f"/workbench/shelf/{thing.pk}/")
    typed = {"depot": depot.pk, "count": "3", "reason": "lost", "note": "In the beck.", "form_key": str(thing.key)}
    address = f"/workbench/shelf/{thing.pk}/take-out/"

    too_many = client.post(address, typed | {"count": "6"})
    senseless = [client.post(address, typed | {"count": count}) for count in ("0", "", "x", "9" * 40, "1.5")]
    nowhere = client.post(address, typed | {"depot": "9" * 40, "reason": "\x00"})
    for _time in range(2):
        client.post(address, typed)

    assert Page(page.content.decode()).wrong == []
    assert too_many.status_code == 409
    assert "Only 5 of Sanitiser are on the shelf at Old Goods Shed" in words_of(too_many)
    assert 'value="6"' in words_of(too_many)
    assert 'value="In the beck."' in words_of(too_many)
    assert [answer.status_code for answer in (*senseless, nowhere)] == [422] * 6
    assert ShelfMovement.objects.last().balance == 2
    assert "In the beck." in words_of(client.get(f"/workbench/shelf/{thing.pk}/"))


def test_each_deed_of_a_thing_is_done_from_its_page(signed_in, teodor, add, depot):
    client, thing = signed_in(teodor), add()
    barn = Depot.objects.create(name="Tithe Barn")
    seen = str(ShelfMovement.objects.get().pk)
    base = f"/workbench/shelf/{thing.pk}/"

    client.post(f"{base}put-in/", {"depot": depot.pk, "count": "4"})
    stale = client.post(f"{base}count/", {"depot": depot.pk, "count": "5", "seen": seen})
    fresh = client.post(
        f"{base}count/", {"depot": depot.pk, "count": "8", "seen": str(ShelfMovement.objects.last().pk)}
    )
    client.post(f"{base}move/", {"depot": depot.pk, "to": barn.pk, "count": "3"})
    client.post(f"{base}least/", {"depot": barn.pk, "least_count": "4"})
    changed = client.post(
        f"{base}change/", {"name": "Sanitiser", "kind": "consumable", "unit": "box", "lead_days": "4"}
    )
    kept = client.post(f"{base}retire/", follow=True)

    assert (stale.status_code, fresh.status_code, changed.status_code) == (409, 302, 302)
    assert "Since you opened this: Teodor Haskerby: +4, delivered." in words_of(stale)
    places = {place.depot: (place.count, place.least_count) for place in ShelfPlace.objects.counted()}
    assert places == {depot: (5, None), barn: (3, 4)}
    assert "Some of it is on the shelf: 5 (Old Goods Shed, Withyhurn), 3 (Tithe Barn)" in words_of(kept)
    assert "Moved here from another depot" in words_of(kept)
    for place in (depot, barn):
        client.post(f"{base}count/", {"depot": place.pk, "count": "0"})
    assert "is kept no more" in words_of(client.post(f"{base}retire/", follow=True))
    assert "is kept on the shelf again" in words_of(client.post(f"{base}bring-back/", follow=True))


def test_the_order_list_says_how_many_to_get_and_no_cell_of_its_file_is_a_formula(signed_in, teodor, add):
    client = signed_in(teodor)
    add("=2+5", count=0, note="@home")
    add("Plenty", count=90)

    page = client.get("/workbench/shelf/order/")
    answer = client.get("/workbench/shelf/order.csv")

    assert "Plenty" not in words_of(page)
    assert Page(page.content.decode()).wrong == []
    heading, row = csv.reader(io.StringIO(answer.content.decode("utf-8-sig")))
    assert dict(zip(heading, row, strict=True)) == {
        "Depot": "Old Goods Shed, Withyhurn",
        "What": "'=2+5",
        "To get": "5",
        "Each a": "sachet",
        "There": "0",
        "Least count": "5",
        "Days": "14",
        "Note": "'@home",
    }


def test_a_scheme_chooses_how_seldom_the_shelf_runs_out(signed_in, perpetua, teodor, add):
    add(count=0)
    client = signed_in(perpetua)
    before = words_of(client.get("/workbench/shelf/"))

    refused = client.post("/workbench/shelf/shortage/", {"one_in": "1"})
    chosen = client.post("/workbench/shelf/shortage/", {"one_in": "500"}, follow=True)

    assert refused.status_code == 422
    assert Scheme.objects.get().shortage_one_in == 500
    assert "5 too few" in before
    assert "13 too few" in words_of(chosen)
    assert signed_in(teodor).get("/workbench/shelf/shortage/").status_code == 403


def test_what_a_mending_used_is_named_with_it_and_stands_on_the_faults_page(signed_in, teodor, report, add, spare_pin):
    client, fault = signed_in(teodor), report()
    sanitiser = add().places.get()
    page = client.get(f"/workbench/{fault.pk}/")
    address = f"/workbench/{fault.pk}/mend/"
    typed = {"revision": str(fault.revision), "note": "Done.", "used_1": str(spare_pin.pk), "count_1": "1"}

    half = client.post(address, typed | {"used_2": str(sanitiser.pk), "count_3": "2"})
    wrong = client.post(address, typed | {"used_1": "9" * 40, "count_1": "1.5"})
    few = client.post(address, typed | {"used_2": str(sanitiser.pk), "count_2": "6"})
    done = client.post(address, typed | {"used_2": str(sanitiser.pk), "count_2": "5"}, follow=True)

    assert "Drive pin, Heron mill: 1 there" in words_of(page)
    assert Page(page.content.decode()).wrong == []
    assert "Say how many were used" in words_of(half)
    assert "Say what was used" in words_of(half)
    assert "This is kept on no shelf" in words_of(wrong)
    assert 'id="mend_count_2_error"' in words_of(few)
    assert "Only 5 of Sanitiser are on the shelf" in words_of(few)
    assert "Used from the shelf" in words_of(done)
    assert "5 × <a" in words_of(done)
    assert Page(done.content.decode()).wrong == []
