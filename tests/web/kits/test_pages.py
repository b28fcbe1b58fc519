"""The pages about kits: who sees and changes what, what a refused form keeps, and what each costs."""

from datetime import date

import pytest
from django.urls import reverse
from pytest_django.asserts import assertContains, assertNotContains, assertRedirects

from kitshare.bookings.models import Booking, Stage
from kitshare.checks.models import CheckKind, CheckLine, HandoverCheck, Outcome, SignedRole
from kitshare.kits.models import Depot, Kit, Machine, MachineKind, Part
from kitshare.logbook.models import Entry
from kitshare.upkeep.models import Fault

pytestmark = pytest.mark.django_db

SCRIPT = "<script>alert('x')</script>"


@pytest.fixture
def booked(mill, sorrelhythe, sunniva, now):
    """The mill promised to Sorrelhythe, at some stage."""

    def made(stage: Stage) -> Booking:
        booking = Booking.objects.create(
            village=sorrelhythe,
            borrower=sunniva,
            stage=stage,
            out_on=date(2027, 9, 4),
            back_on=date(2027, 9, 6),
            fruit_amount=100,
            fruit_kg=100,
            asked_at=now,
            changed_at=now,
        )
        booking.machines.add(mill)
        return booking

    return made


@pytest.fixture
def report(mill, drive_pin, sunniva, now):
    def made(severity: str, note: str = "Bent like a banana.") -> Fault:
        return Fault.objects.create(
            machine=mill, part=drive_pin, note=note, severity=severity, reported_by=sunniva, reported_at=now
        )

    return made


PAGES = {
    "list": lambda part: reverse("kits:list"),
    "kit": lambda part: reverse("kits:show", args=[part.machine.kit.pk]),
    "machine": lambda part: reverse("kits:machine", args=[part.machine.pk]),
    "part": lambda part: reverse("kits:part", args=[part.pk]),
}
CHANGES = [
    "new",
    "depot_new",
    "depot_change",
    "kit_change",
    "kit_retire",
    "kit_bring_back",
    "kit_starter",
    "kit_order",
    "machine_new",
    "machine_change",
    "machine_retire",
    "machine_bring_back",
    "machine_order",
    "part_new",
    "part_change",
    "part_retire",
    "part_bring_back",
]


def address(name: str, part: Part) -> str:
    """Where a page that changes something is, for one part and what it belongs to."""
    keys = {"new": [], "depot_new": [], "depot_change": [part.machine.kit.depot_id]}
    of = {"kit": part.machine.kit_id, "machine": part.machine_id, "part": part.pk}
    kind = {"machine_new": "kit", "part_new": "machine"}.get(name, name.split("_", maxsplit=1)[0])
    return reverse(f"kits:{name}", args=keys.get(name, [of.get(kind)]))


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_every_member_may_look_and_only_those_who_run_things_see_how_to_change(
    signed_in, leilani, teodor, perpetua, drive_pin, page
):
    shown = page(drive_pin)

    to_a_borrower = signed_in(leilani).get(shown)

    assert to_a_borrower.status_code == 200
    assertNotContains(to_a_borrower, "/change/")
    assertNotContains(to_a_borrower, "/retire/")
    for member in (teodor, perpetua):
        assertContains(signed_in(member).get(shown), "new/" if page is PAGES["list"] else "/change/")


def test_a_borrower_changes_nothing(signed_in, leilani, drive_pin, subtests):
    browser = signed_in(leilani)

    for name in CHANGES:
        for method in (browser.get, browser.post):
            with subtests.test(name=name, method=method.__name__):
                answer = method(address(name, drive_pin))
                sentence = "This page is for maintenance volunteers and the coordinator."
                assertContains(answer, sentence, status_code=403)


def test_a_stranger_is_sent_to_sign_in(client, drive_pin, subtests):
    for name in CHANGES:
        with subtests.test(name=name):
            answer = client.post(address(name, drive_pin))
            assert answer.status_code == 302
            assert answer["Location"].startswith(reverse("people:sign_in"))


@pytest.mark.parametrize("key", [0, 999, 10**18, 10**30])
def test_there_is_nothing_at_a_made_up_address(signed_in, perpetua, depot, key, subtests):
    client = signed_in(perpetua)

    for name in [*(name for name in CHANGES if name not in {"new", "depot_new"}), "show", "machine", "part"]:
        for method in (client.get, client.post):
            with subtests.test(name=name, method=method.__name__):
                assert method(reverse(f"kits:{name}", args=[key])).status_code in {404, 405}


def test_with_no_kits_the_page_says_what_to_do(signed_in, perpetua, leilani):
    assertContains(signed_in(perpetua).get(reverse("kits:list")), "Add the first kit")
    assertContains(signed_in(leilani).get(reverse("kits:list")), "The coordinator adds them.")


def test_a_kit_needs_a_depot_first(signed_in, perpetua):
    answer = signed_in(perpetua).get(reverse("kits:new"), follow=True)

    assertRedirects(answer, reverse("kits:depot_new"))
    assertContains(answer, "Add the depot first.")


def test_a_machine_stands_at_the_depot_out_or_set_aside(signed_in, leilani, mill, drive_pin, booked, report):
    client = signed_in(leilani)
    page = reverse("kits:list")
    assertContains(client.get(page), "at the depot")

    booked(Stage.OUT)
    assertContains(client.get(page), "out with Sorrelhythe")
    assertNotContains(client.get(page), "at the depot")

    report("looks_only")
    assertNotContains(client.get(page), "set aside")
    report("use_with_care")
    assertContains(client.get(page), "use with care")
    assertContains(client.get(page), "out with Sorrelhythe")
    report("stops_use")
    assertContains(client.get(page), "set aside")


@pytest.mark.parametrize("page", PAGES.values(), ids=PAGES)
def test_script_in_any_text_is_shown_and_not_run(signed_in, perpetua, heron, mill, drive_pin, report, page):
    Depot.objects.update(name=SCRIPT, directions=SCRIPT)
    Kit.objects.update(name=SCRIPT, note=SCRIPT)
    Machine.objects.update(name=SCRIPT, caution=SCRIPT)
    Part.objects.update(name=SCRIPT, number="<b>", packed_in=SCRIPT, caution=SCRIPT, look_for=SCRIPT)
    report("stops_use", note=SCRIPT)

    answer = signed_in(perpetua).get(page(drive_pin))

    assertContains(answer, "&lt;script&gt;")
    assertNotContains(answer, "<script>alert")


def _machines(kit: Kit, count: int) -> None:
    for number in range(count):
        machine = Machine.objects.create(kit=kit, name=f"Mill {number}", kind=MachineKind.MILL)
        Part.objects.create(machine=machine, name="Drive pin", kind="vital")


def test_the_list_costs_the_same_at_one_kit_and_at_twelve(
    signed_in, perpetua, heron, mill, depot, django_assert_num_queries
):
    client = signed_in(perpetua)
    page = reverse("kits:list")
    with django_assert_num_queries(11):
        client.get(page)

    for number in range(11):
        _machines(Kit.objects.create(name=f"Kit {number}", depot=depot), 3)

    with django_assert_num_queries(11):
        assertContains(client.get(page), "Kit 10")


def test_a_kits_page_costs_the_same_at_one_machine_and_at_twelve(
    signed_in, perpetua, otter, otter_mill, django_assert_num_queries
):
    client = signed_in(perpetua)
    page = reverse("kits:show", args=[otter.pk])
    with django_assert_num_queries(11):
        client.get(page)

    _machines(otter, 11)

    with django_assert_num_queries(11):
        assertContains(client.get(page), "Mill 10")


def test_a_machines_page_costs_the_same_at_one_part_and_at_twelve(
    signed_in, perpetua, mill, drive_pin, report, django_assert_num_queries
):
    client = signed_in(perpetua)
    page = reverse("kits:machine", args=[mill.pk])
    report("stops_use")
    with django_assert_num_queries(16):
        client.get(page)

    for number in range(11):
        Part.objects.create(machine=mill, name=f"Bolt {number}")
        report("looks_only")

    with django_assert_num_queries(16):
        assertContains(client.get(page), "Bolt 10")


def test_an_open_fault_and_the_way_to_report_another_are_one_link_away(signed_in, leilani, mill, drive_pin, report):
    fault = report("stops_use")

    page = signed_in(leilani).get(reverse("kits:machine", args=[mill.pk]))

    assertContains(page, reverse("upkeep:fault", args=[fault.pk]))
    assertContains(page, reverse("upkeep:report", args=[mill.pk]))


def test_the_kind_of_a_machine_is_said_once(signed_in, leilani, mill, press):
    Machine.objects.filter(pk=press.pk).update(name="Old Bertha")

    page = signed_in(leilani).get(reverse("kits:list"))

    assertContains(page, '<span class="muted">press</span>', html=True)
    assertNotContains(page, '<span class="muted">mill</span>', html=True)


def test_parts_are_grouped_by_where_they_travel(signed_in, leilani, mill, drive_pin, spare_pin, guard, lead):
    Part.objects.filter(pk=lead.pk).update(packed_in="red tin, in the hopper", expected_count=3)

    page = signed_in(leilani).get(reverse("kits:machine", args=[mill.pk])).content.decode()

    assert page.count('<section class="tray"') == 2
    assert "× 3" in page
    assert "vital part" in page
    assert "guard part" in page
    assert "1 spare on the shelf" in page


def test_a_machine_without_a_vital_part_says_so(signed_in, leilani, mill, guard):
    page = reverse("kits:machine", args=[mill.pk])

    assertContains(signed_in(leilani).get(page), "No vital part is listed")
    assertNotContains(signed_in(leilani).get(page), "No guard part is listed")


def test_a_refused_part_keeps_what_was_typed(signed_in, teodor, mill, drive_pin):
    typed = {"name": "Drive pin", "kind": "vital", "expected_count": "1", "look_for": "Straight as an arrow."}

    answer = signed_in(teodor).post(reverse("kits:part_new", args=[mill.pk]), typed)

    assertContains(answer, "There is a problem", status_code=422)
    assertContains(answer, "is the name of another one here", count=2, status_code=422)
    assertContains(answer, "Straight as an arrow.", status_code=422)
    assertContains(answer, "<title>Error:", status_code=422)
    assert mill.parts.count() == 1


@pytest.mark.parametrize("count", ["0", "-3", "1001", "99999999999999999999", "many", "1.5", "", "NaN"])
def test_a_number_that_makes_no_sense_is_refused_by_the_field(signed_in, teodor, mill, count):
    answer = signed_in(teodor).post(
        reverse("kits:part_new", args=[mill.pk]), {"name": "Cloths", "kind": "counted", "expected_count": count}
    )

    assertContains(answer, 'id="id_expected_count_error"', status_code=422)
    assert not mill.parts.exists()


@pytest.mark.parametrize("name", ["", "   ", "x" * 81, "a\x00b"])
def test_a_name_that_is_none_is_refused(signed_in, teodor, mill, name):
    answer = signed_in(teodor).post(
        reverse("kits:part_new", args=[mill.pk]), {"name": name, "kind": "vital", "expected_count": "1"}
    )

    assertContains(answer, 'id="id_name_error"', status_code=422)


@pytest.mark.parametrize("name", [name for name in CHANGES if name.endswith(("new", "change", "starter"))])
def test_an_empty_form_is_refused_with_a_summary(signed_in, perpetua, drive_pin, name):
    answer = signed_in(perpetua).post(address(name, drive_pin), {})

    assertContains(answer, "There is a problem", status_code=422)


def test_a_kit_is_added_and_filled_from_the_starter_list(signed_in, perpetua, depot):
    client = signed_in(perpetua)
    client.post(reverse("kits:new"), {"name": "Wren", "depot": depot.pk, "shape": "wedge", "care_days": "2"})
    kit = Kit.objects.get(name="Wren")
    assertContains(client.get(reverse("kits:show", args=[kit.pk])), "Begin with the starter list")

    answer = client.post(reverse("kits:kit_starter", args=[kit.pk]), {"machines": ["mill", "press"]}, follow=True)

    assertContains(answer, "Go through each list now")
    assert sorted(kit.machines.values_list("kind", flat=True)) == ["mill", "press"]


def test_a_starter_machine_that_is_there_already_is_refused_and_the_ticks_stay(signed_in, perpetua, otter):
    client = signed_in(perpetua)
    page = reverse("kits:kit_starter", args=[otter.pk])
    client.post(page, {"machines": ["press"]})

    answer = client.post(page, {"machines": ["mill", "press"]})

    assertContains(answer, "“Otter press” is the name of another one here", status_code=422)
    assertContains(answer, 'value="mill" checked', status_code=422)
    assert otter.machines.count() == 1


@pytest.mark.parametrize("choice", ["balloon", SCRIPT, ""])
def test_a_made_up_starter_machine_is_refused(signed_in, perpetua, otter, choice):
    answer = signed_in(perpetua).post(reverse("kits:kit_starter", args=[otter.pk]), {"machines": [choice]})

    assert answer.status_code == 422
    assertNotContains(answer, SCRIPT, status_code=422)


def change(client, page: str, shown=None, status: int = 302, **typed):
    """Open a form (or take one opened before), change some of it and send it, as a browser does."""
    form = (shown or client.get(page)).context["form"]
    data = {}
    for field in form:
        initial = "" if field.initial is None else field.initial
        data |= {field.html_name: initial, field.html_initial_name: initial}
    answer = client.post(page, data | typed)
    assert answer.status_code == status, answer.content.decode()
    return answer


def test_a_form_that_lay_open_does_not_undo_what_somebody_else_changed_meanwhile(signed_in, teodor, drive_pin):
    client = signed_in(teodor)
    page = reverse("kits:part_change", args=[drive_pin.pk])
    lay_open = client.get(page)
    change(client, page, look_for="Straight, and oiled.")

    refused = change(client, page, shown=lay_open, status=422, number="H9")
    assertContains(refused, "Teodor Haskerby: Changed the part Drive pin: what to look for", status_code=422)
    change(client, page, shown=lay_open, number="H9", seen=refused.context["form"]["seen"].value())

    drive_pin.refresh_from_db()
    assert (drive_pin.number, drive_pin.look_for) == ("H9", "Straight, and oiled.")


def test_kits_machines_parts_and_depots_are_changed(signed_in, teodor, depot, heron, mill, drive_pin):
    client = signed_in(teodor)
    change(client, reverse("kits:depot_change", args=[depot.pk]), name="Mill House")
    change(client, reverse("kits:kit_change", args=[heron.pk]), name="Great Heron", care_days="3")
    change(client, reverse("kits:machine_change", args=[mill.pk]), name="Great mill", kind="other")
    part = {"name": "Great pin", "kind": "ordinary", "expected_count": "2", "number": ""}
    change(client, reverse("kits:part_change", args=[drive_pin.pk]), **part)

    assert Depot.objects.get().name == "Mill House"
    assert Kit.objects.values_list("name", "care_days").get() == ("Great Heron", 3)
    assert Machine.objects.values_list("name", "kind").get() == ("Great mill", "other")
    assert Part.objects.values_list("name", "expected_count", "number").get() == ("Great pin", 2, "")
    assert set(Entry.objects.values_list("by_name", flat=True)) == {"Teodor Haskerby"}
    assert Entry.objects.count() == 4


@pytest.mark.parametrize("what", ["kit", "machine", "part"])
def test_what_is_retired_leaves_the_lists_keeps_its_page_and_comes_back(signed_in, teodor, drive_pin, what):
    thing = {"part": drive_pin, "machine": drive_pin.machine, "kit": drive_pin.machine.kit}[what]
    client = signed_in(teodor)

    retired = client.post(address(f"{what}_retire", drive_pin), {"reason": "Worn out."}, follow=True)
    thing.refresh_from_db()
    assert thing.retired_on is not None
    assertContains(retired, "has been retired since")
    assertContains(retired, "Worn out.")

    client.post(address(f"{what}_bring_back", drive_pin))
    thing.refresh_from_db()
    assert thing.retired_on is None


def test_a_retirement_without_a_reason_is_one(signed_in, teodor, drive_pin):
    signed_in(teodor).post(reverse("kits:part_retire", args=[drive_pin.pk]), {})

    drive_pin.refresh_from_db()
    assert drive_pin.retired_on is not None


@pytest.mark.parametrize("what", ["kit", "machine"])
def test_a_promised_machine_is_not_retired_and_the_page_says_who_counts_on_it(
    signed_in, teodor, drive_pin, booked, what
):
    booked(Stage.AGREED)
    client = signed_in(teodor)
    page = address(f"{what}_retire", drive_pin)

    assertContains(client.get(page), "these bookings count on it")
    assertNotContains(client.get(page), 'name="reason"')
    assertContains(client.post(page, {"reason": ""}), "is promised: Sorrelhythe", status_code=422)
    assert not Entry.objects.exists()


def test_before_the_only_vital_part_is_retired_the_page_says_what_is_then_missing(
    signed_in, teodor, drive_pin, guard, lead
):
    client = signed_in(teodor)

    assertContains(client.get(reverse("kits:part_retire", args=[drive_pin.pk])), "the only vital part listed")
    assertContains(client.get(reverse("kits:part_retire", args=[guard.pk])), "the only guard part listed")
    assertNotContains(client.get(reverse("kits:part_retire", args=[lead.pk])), "the only")


def test_a_part_whose_name_was_taken_cannot_come_back(signed_in, teodor, drive_pin, today):
    Part.objects.update(retired_on=today)
    Part.objects.create(machine=drive_pin.machine, name="Drive pin")

    answer = signed_in(teodor).post(reverse("kits:part_bring_back", args=[drive_pin.pk]), follow=True)

    assertContains(answer, "is the name of another one here")


def test_a_link_alone_brings_nothing_back(signed_in, teodor, drive_pin):
    for what in ("kit", "machine", "part"):
        assert signed_in(teodor).get(address(f"{what}_bring_back", drive_pin)).status_code == 405


def test_parts_and_machines_are_put_in_order(signed_in, teodor, mill, press, drive_pin, guard):
    client = signed_in(teodor)
    client.post(reverse("kits:machine_order", args=[mill.pk]), {"thing": guard.pk, "to": "earlier"})
    client.post(reverse("kits:kit_order", args=[mill.kit_id]), {"thing": mill.pk, "to": "later"})

    assert list(mill.parts.order_by("position")) == [guard, drive_pin]
    assert list(mill.kit.machines.order_by("position")) == [press, mill]


@pytest.mark.parametrize("thing", ["", "x", "-1", "²", "9" * 40, SCRIPT])
def test_moving_what_is_not_there_finds_nothing(signed_in, teodor, mill, thing):
    for page in (reverse("kits:machine_order", args=[mill.pk]), reverse("kits:kit_order", args=[mill.kit_id])):
        assert signed_in(teodor).post(page, {"thing": thing, "to": "earlier"}).status_code == 404


def test_a_part_of_another_machine_is_not_moved_here(signed_in, teodor, press, drive_pin, guard):
    answer = signed_in(teodor).post(reverse("kits:machine_order", args=[press.pk]), {"thing": guard.pk})

    assert answer.status_code == 404


def test_what_checks_saw_of_a_part_is_shown_to_those_who_may_see_the_booking(
    signed_in, sunniva, leilani, fennerlow, teodor, drive_pin, booked, now
):
    check = HandoverCheck.objects.create(
        booking=booked(Stage.OUT),
        kind=CheckKind.PICKUP,
        outcome=Outcome.HANDED_OVER,
        by=teodor,
        signed_name="Sunniva",
        signed_role=SignedRole.BORROWER,
        done_at=now,
    )
    CheckLine.objects.create(
        check_of=check, part=drive_pin, expected_count=1, count=1, condition="worn", note="A burr."
    )
    page = reverse("kits:part", args=[drive_pin.pk])

    assertContains(signed_in(sunniva).get(page), "A burr.")
    assertContains(signed_in(teodor).get(page), "1 of 1")
    assertNotContains(signed_in(leilani).get(page), "A burr.")


def test_a_part_is_shared_on_its_form_and_its_page_says_so(signed_in, perpetua, mill, press, drive_pin, otter_mill):
    client = signed_in(perpetua)
    address = reverse("kits:part_change", args=[drive_pin.pk])
    form = client.get(address).content.decode()
    fields = {"name": "Drive pin", "number": "H1", "kind": "vital", "expected_count": "1", "also_serves": [press.pk]}

    client.post(address, fields | {"initial-also_serves": [], "packed_in": "", "caution": "", "look_for": ""})
    page = client.get(reverse("kits:part", args=[drive_pin.pk])).content.decode()
    far = client.post(address, fields | {"also_serves": [otter_mill.pk]})

    assert "Heron press" in form
    assert "Otter mill" not in form.split('id="content"')[1]
    assert list(drive_pin.also_serves.all()) == [press]
    assert f'href="{reverse("kits:machine", args=[press.pk])}">Heron press</a>' in page
    assert "Drive pin of Heron mill also serves Heron press." in page
    assert far.status_code == 422
    assert client.post(address, fields | {"also_serves": ["9" * 40]}).status_code == 422


def test_a_machine_alone_in_its_kit_shares_nothing(signed_in, perpetua, otter_mill):
    page = signed_in(perpetua).get(reverse("kits:part_new", args=[otter_mill.pk])).content.decode()

    assert "Also serves" not in page
