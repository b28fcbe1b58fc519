"""The pickup and the return as people do them on a phone, with and without everything in order."""

import uuid
from datetime import timedelta

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from kitshare.bookings.models import Stage
from kitshare.checks.models import HandoverCheck, Outcome, Photo
from kitshare.kits.models import Part
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Severity
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault
from kitshare.web.checks.facts import handovers_of
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db


def words(answer) -> str:
    return " ".join(answer.content.decode().split())


def stage_of(booking):
    booking.refresh_from_db()
    return booking.stage


def test_every_part_stands_on_the_sheet_in_packing_order_and_nothing_is_ticked(
    signed_in, sunniva, pickup_address, parts
):
    page = words(signed_in(sunniva).get(pickup_address))

    places = [page.index(f'id="id_p{part.pk}-seen"') for part in parts]
    assert places == sorted(places)
    assert 'value="all" data-pick="all" checked' not in page
    assert 'value="other" data-pick="other" checked' not in page
    assert 'data-condition="sound" checked' not in page
    assert page.count('value="" data-pick="none" checked') == 5
    assert "0 of 5 looked at" in page
    assert "Sunniva" not in page.split('<form class="sheet"')[1]


def test_cautions_are_loud_and_what_to_look_for_is_a_tap_away(signed_in, sunniva, pickup_address, mill):
    mill.caution = "Test the trip switch first."
    mill.save()

    page = words(signed_in(sunniva).get(pickup_address))

    assert '<p class="caution"><strong>Caution:</strong> Test the trip switch first.</p>' in page
    assert "Nobody lifts, moves or starts the mill without it." in page
    assert "<summary><span>What to look for</span></summary> <p>Straight, no burr, clip on its cord.</p>" in page


def test_what_is_known_of_the_machines_stands_on_the_sheet_with_which_they_go_out(
    signed_in, sunniva, teodor, mill, now, pickup_address, return_address, plan_care, picked_up
):
    upkeep.report_fault(machine=mill, part=None, note="Runs coarse", severity=Severity.USE_WITH_CARE, by=teodor, at=now)
    plan_care(kind="service", name="Blades sharpened", due_on=now.date() - timedelta(days=3))

    going = words(signed_in(sunniva).get(pickup_address))
    picked_up()
    coming = words(signed_in(sunniva).get(return_address))

    known = ["Heron mill: Runs coarse.", "Heron mill: “Blades sharpened” has been due since"]
    assert [sentence in going for sentence in known] == [True, True]
    assert [sentence in coming for sentence in known] == [False, False]


def test_a_whole_kit_goes_out_and_the_finished_check_is_shown(picked_up, agreed_booking):
    answer = picked_up()

    check = HandoverCheck.objects.get()
    assert (answer.status_code, answer["Location"]) == (302, reverse("checks:show", args=[check.pk]))
    assert stage_of(agreed_booking) == Stage.OUT


def test_parts_that_nobody_looked_at_are_named_with_links_and_the_rest_stays_typed(
    picked_up, agreed_booking, guard, cloths, lead, other
):
    answer = picked_up(
        **{f"p{guard.pk}-seen": None, f"p{cloths.pk}-seen": None},
        **other(lead, "worn", note="Frayed <b>here</b>"),
    )

    page = words(answer)
    assert answer.status_code == 200
    assert "<title>Error: Pickup check" in page
    assert f'<a href="#id_p{guard.pk}-seen">Feed guard: not looked at yet.</a>' in page
    assert f'<a href="#id_p{cloths.pk}-seen">Cloths: not looked at yet.</a>' in page
    assert "3 of 5 looked at" in page
    assert 'value="Frayed &lt;b&gt;here&lt;/b&gt;"' in page
    assert 'data-condition="worn" checked' in page
    assert 'value="Sunniva Okparadine"' in page
    assert stage_of(agreed_booking) == Stage.AGREED


@pytest.mark.parametrize(("spare", "goes"), [(None, False), ("on", True)])
def test_a_missing_vital_part_keeps_the_kit_and_shows_two_ways_unless_a_spare_is_in_its_place(
    spare, goes, picked_up, agreed_booking, drive_pin, other
):
    more = {"spare_fitted": spare} if spare else {}

    answer = picked_up(**other(drive_pin, "missing", **more))

    assert stage_of(agreed_booking) == (Stage.OUT if goes else Stage.AGREED)
    if not goes:
        page = words(answer)
        assert "The kit does not go out like this" in page
        assert f'<a href="#id_p{drive_pin.pk}-seen">Drive pin</a>' in page
        assert 'name="deed" value="stop">Report it and stop the handover' in page
        assert "disc disc-missing" in page


@pytest.mark.parametrize("looked_at_all", [True, False])
def test_reporting_and_stopping_keeps_the_kit_sets_it_aside_and_tells_the_coordinator(
    looked_at_all, picked_up, agreed_booking, drive_pin, lead, other, perpetua, mill, client
):
    unseen = {} if looked_at_all else {f"p{lead.pk}-seen": None}

    answer = picked_up(deed="stop", **unseen, **other(drive_pin, "missing"))

    check = HandoverCheck.objects.get()
    assert answer["Location"] == reverse("checks:show", args=[check.pk])
    assert (check.outcome, check.lines.count()) == (Outcome.STOPPED, 5 if looked_at_all else 4)
    assert stage_of(agreed_booking) == Stage.AGREED
    assert Fault.objects.stopping([mill]).exists()
    assert Message.objects.filter(key=f"pickup-stopped:{check.pk}:{perpetua.pk}").exists()
    assert "The kit did not go out." in words(client.get(answer["Location"]))


def test_stopping_too_needs_a_name(picked_up, drive_pin, other):
    answer = picked_up(deed="stop", signed_name="", **other(drive_pin, "missing"))

    assert "Sign with your name." in words(answer)
    assert "Report it and stop the handover" in words(answer)
    assert not HandoverCheck.objects.exists()


def test_a_machine_set_aside_shows_the_reason_instead_of_the_sheet(
    signed_in, sunniva, teodor, pickup_address, mill, filled, now, agreed_booking
):
    browser, sheet = signed_in(sunniva), filled()
    assert "data-part" in words(browser.get(pickup_address))
    fault = upkeep.report_fault(
        machine=mill, part=None, note="<script>alert(1)</script>", severity=Severity.STOPS_USE, by=teodor, at=now
    )

    page = words(browser.get(pickup_address))
    sent = words(browser.post(pickup_address, sheet))

    for text in (page, sent):
        assert "Heron mill: &lt;script&gt;alert(1)&lt;/script&gt;" in text
        assert "<script>alert" not in text
    assert "data-part" not in page
    assert reverse("upkeep:fault", args=[fault.pk]) in page
    assert "data-part" in sent
    assert stage_of(agreed_booking) == Stage.AGREED


@pytest.mark.parametrize("stage", [stage for stage in Stage if stage != Stage.AGREED])
def test_at_any_other_stage_the_pickup_page_says_why_not(stage, signed_in, sunniva, pickup_address, agreed_booking):
    agreed_booking.stage = stage
    agreed_booking.save()

    answer = signed_in(sunniva).get(pickup_address)

    assert answer.status_code == 200
    assert "No pickup check now" in words(answer)
    assert "data-part" not in words(answer)


def test_before_the_pickup_the_return_page_says_what_comes_first(
    signed_in, sunniva, return_address, filled, agreed_booking
):
    browser = signed_in(sunniva)

    seen, sent = browser.get(return_address), browser.post(return_address, filled())

    assert "the pickup check comes first" in words(seen)
    assert "the pickup check comes first" in words(sent)
    assert stage_of(agreed_booking) == Stage.AGREED


def test_a_double_tap_makes_one_check_and_leads_to_it_twice(signed_in, sunniva, pickup_address, filled, lead):
    browser, sheet = signed_in(sunniva), filled()

    answers = [browser.post(pickup_address, sheet | {f"p{lead.pk}-photo": upload(picture())}) for _tap in range(2)]

    check = HandoverCheck.objects.get()
    assert [answer["Location"] for answer in answers] == [reverse("checks:show", args=[check.pk])] * 2
    assert Photo.objects.count() == 1


def test_a_changed_sheet_under_an_old_key_is_refused_with_a_link_to_what_was_recorded(
    signed_in, sunniva, pickup_address, filled
):
    browser, sheet = signed_in(sunniva), filled()
    browser.post(pickup_address, sheet)

    answer = browser.post(pickup_address, sheet | {"signed_name": "Somebody else"})

    check = HandoverCheck.objects.get()
    assert check.signed_name == "Sunniva Okparadine"
    assert "recorded before, with other answers" in words(answer)
    assert reverse("checks:show", args=[check.pk]) in words(answer)


@pytest.mark.parametrize(
    ("answers", "said"),
    [
        ({"condition": "missing", "count": "3"}, "Cloths: missing means that none is there."),
        ({"condition": "sound", "count": "0"}, "Cloths: if none is there, choose missing."),
        ({"condition": "sound", "count": "-1"}, "Cloths: give a number from 0 to 1,000."),
        ({"condition": "sound", "count": "99999999999999999999"}, "Cloths: give a number from 0 to 1,000."),
        ({"condition": "sound", "count": "twelve"}, "Cloths: give a number from 0 to 1,000."),
        ({"condition": "", "count": "11"}, "Cloths: say how it looks."),
        ({"condition": "gone", "count": "11"}, "gone is not one of the available choices"),
        ({"condition": "worn", "count": "11", "note": "x" * 501}, "Cloths: the note is too long"),
        ({"condition": "worn", "count": "11", "note": "a\x00b"}, "Null characters are not allowed"),
        ({"seen": "perhaps", "condition": ""}, "Cloths: not looked at yet."),
    ],
)
def test_what_cannot_be_so_is_said_by_the_part_and_stays_typed(answers, said, picked_up, agreed_booking, cloths, other):
    answer = picked_up(**(other(cloths, "") | {f"p{cloths.pk}-{name}": value for name, value in answers.items()}))

    page = words(answer)
    assert answer.status_code == 200
    assert said in page
    if answers.get("count", "").isalnum():
        assert f'value="{answers["count"]}"' in page
    assert stage_of(agreed_booking) == Stage.AGREED


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({"signed_name": ""}, "Sign with your name."),
        ({"signed_name": "   "}, "Sign with your name."),
        ({"signed_role": "king"}, "king is not one of the available choices"),
        ({"signed_role": None}, "Say as what you are here."),
        ({"key": "not a key"}, "Enter a valid UUID."),
        ({"note": "x" * 2001}, "at most 2000 characters"),
    ],
)
def test_a_sheet_that_is_not_properly_signed_is_refused(changes, said, picked_up, agreed_booking):
    answer = picked_up(**changes)

    assert answer.status_code == 200
    assert said in words(answer)
    assert stage_of(agreed_booking) == Stage.AGREED


def test_a_counted_part_that_is_all_missing_needs_no_number(picked_up, agreed_booking, cloths, other):
    picked_up(**other(cloths, "missing", count=""))

    assert stage_of(agreed_booking) == Stage.OUT
    assert HandoverCheck.objects.get().lines.get(part=cloths).count == 0


def test_a_condition_alone_says_as_much_as_the_tap_before_it(picked_up, agreed_booking, lead, other):
    picked_up(**(other(lead, "worn") | {f"p{lead.pk}-seen": ""}))

    assert HandoverCheck.objects.get().lines.get(part=lead).condition == "worn"


# Return


def test_a_return_shows_what_went_out_beside_what_comes_back(
    picked_up, client, return_address, cloths, lead, other, sunniva
):
    picked_up(
        **other(cloths, "worn", count="11", note="One left at the depot"),
        **{f"p{lead.pk}-photo": upload(picture())},
    )

    page = words(client.get(return_address))

    assert "Went out: <strong>11, worn</strong><br>One left at the depot" in page
    assert "As it went out" in page
    assert reverse("checks:photo", args=[Photo.objects.get().key]) in page


def test_a_missing_drive_pin_at_the_return_becomes_a_fault_that_its_line_links_to(
    picked_up, client, return_address, filled, drive_pin, other, agreed_booking, sanitiser
):
    picked_up()

    answer = client.post(return_address, filled(**other(drive_pin, "missing"), **other(sanitiser, "sound", count="3")))

    fault = Fault.objects.get()
    assert (fault.part, fault.severity) == (drive_pin, "stops_use")
    assert reverse("upkeep:fault", args=[fault.pk]) in words(client.get(answer["Location"]))
    assert stage_of(agreed_booking) == Stage.BACK


def test_as_it_went_out_is_one_tap_and_no_second_fault(picked_up, client, return_address, filled, cloths, other):
    picked_up(**other(cloths, "damaged", count="11"))

    client.post(return_address, filled())

    back = HandoverCheck.objects.get(kind="return").lines.get(part=cloths)
    assert (back.count, back.condition) == (11, "damaged")
    assert Fault.objects.count() == 1


# Who may


@pytest.mark.parametrize(("who", "status"), [("sunniva", 200), ("perpetua", 200), ("teodor", 200), ("leilani", 404)])
def test_the_pages_of_a_booking_are_for_its_village_and_those_who_run_the_scheme(
    who, status, request, signed_in, agreed_booking, picked_up
):
    picked_up()
    check = HandoverCheck.objects.get()
    browser = signed_in(request.getfixturevalue(who))

    for name in ("pickup", "return", "print"):
        assert browser.get(reverse(f"checks:{name}", args=[agreed_booking.pk])).status_code == status
    assert browser.get(reverse("checks:show", args=[check.pk])).status_code == status


def test_another_village_can_neither_sign_nor_leave_a_photo(signed_in, leilani, agreed_booking, pickup_address, filled):
    browser = signed_in(leilani)

    assert browser.post(pickup_address, filled()).status_code == 404
    photo = browser.post(reverse("checks:keep_photo", args=[agreed_booking.pk]), {"photo": upload(picture())})
    assert photo.status_code == 404
    assert not Photo.objects.exists()
    assert stage_of(agreed_booking) == Stage.AGREED


@pytest.mark.parametrize("name", ["show", "pickup", "return", "print"])
def test_a_number_that_belongs_to_nothing_is_a_page_that_says_so(name, signed_in, perpetua):
    assert signed_in(perpetua).get(reverse(f"checks:{name}", args=[999_999_999_999_999_999_999])).status_code == 404


@pytest.mark.parametrize("name", ["pickup", "return", "print"])
def test_a_stranger_is_sent_to_sign_in(name, client, agreed_booking):
    answer = client.get(reverse(f"checks:{name}", args=[agreed_booking.pk]))

    assert answer.status_code == 302
    assert reverse("people:sign_in") in answer["Location"]


# How much the pages ask of the database


def have_parts(machine, total: int) -> None:
    for part in Part.objects.order_by("-pk")[: max(0, Part.objects.count() - total)]:
        part.delete()
    for number in range(total - Part.objects.count()):
        Part.objects.create(machine=machine, name=f"Rack {number}", number=f"R{number}", caution="Mind your fingers.")


@pytest.fixture
def questions():
    """How many queries a deed takes."""

    def questions(deed) -> int:
        with CaptureQueriesContext(connection) as asked:
            assert deed().status_code in {200, 302}
        return len(asked)

    return questions


def test_the_sheet_and_the_printed_list_ask_the_same_few_questions_at_three_parts_and_at_thirty(
    signed_in, sunniva, agreed_booking, press, pickup_address, questions
):
    addresses = [pickup_address, reverse("checks:print", args=[agreed_booking.pk])]
    browser = signed_in(sunniva)

    have_parts(press, 3)
    few = [questions(lambda address=address: browser.get(address)) for address in addresses]
    have_parts(press, 30)
    many = [questions(lambda address=address: browser.get(address)) for address in addresses]

    assert few == many
    assert max(many) <= 23


@pytest.mark.parametrize("total", [3, 30])
def test_handing_over_and_taking_back_ask_no_question_for_each_part(
    total, signed_in, sunniva, press, pickup_address, return_address, filled, parts, questions
):
    have_parts(press, total)
    browser = signed_in(sunniva)
    listed = list(Part.objects.all())

    handed_over = questions(lambda: browser.post(pickup_address, filled(on=listed)))
    return_page = questions(lambda: browser.get(return_address))
    taken_back = questions(lambda: browser.post(return_address, filled(on=listed)))
    check = HandoverCheck.objects.get(kind="return")
    shown = questions(lambda: browser.get(reverse("checks:show", args=[check.pk])))

    assert check.lines.count() == total
    assert handed_over <= 52
    assert return_page <= 14
    assert taken_back <= 52
    assert shown <= 14


# On paper, and on the booking's page


def test_the_printed_list_has_the_kit_the_cautions_and_two_boxes_a_part(signed_in, sunniva, agreed_booking):
    page = words(signed_in(sunniva).get(reverse("checks:print", args=[agreed_booking.pk])))

    assert page.count('<span class="box"></span>') == 10
    assert "Nobody lifts, moves or starts the mill without it." in page
    assert ">Heron</span>" in page
    assert "Red tin, in the hopper" in page


def test_machines_without_parts_say_what_to_do(signed_in, sunniva, agreed_booking, pickup_address):
    Part.objects.update(retired_on=agreed_booking.out_on)
    browser = signed_in(sunniva)

    for address in (pickup_address, reverse("checks:print", args=[agreed_booking.pk])):
        assert "No part is listed for these machines yet." in words(browser.get(address))


def test_the_booking_knows_which_check_comes_next_and_why_not_yet(agreed_booking, sunniva, today, picked_up):
    early = handovers_of(agreed_booking, sunniva, today - timedelta(days=2))
    ready = handovers_of(agreed_booking, sunniva, today)
    picked_up()
    agreed_booking.refresh_from_db()
    out = handovers_of(agreed_booking, sunniva, today)

    assert (early.next_is_pickup, "from Tue 31 Aug on" in early.why_not_yet) == (True, True)
    assert (ready.next_is_pickup, ready.why_not_yet, ready.checks) == (True, "", [])
    assert (out.next_is_return, [check.kind for check in out.checks]) == (True, ["pickup"])


def test_a_fresh_sheet_has_a_key_of_its_own(signed_in, sunniva, pickup_address):
    browser = signed_in(sunniva)

    keys = {browser.get(pickup_address).context["sheet"].signature_form["key"].value() for _visit in range(2)}

    assert len({uuid.UUID(key) for key in keys}) == 2
