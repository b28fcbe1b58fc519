"""A fault's own page: who reads it, who does what on it, and what is kept when a form is refused."""

from datetime import date

import pytest
from django.urls import reverse

from kitshare.checks.models import CheckLine, HandoverCheck
from kitshare.kits.models import Machine
from kitshare.upkeep import actions as upkeep
from kitshare.upkeep.models import Fault, FaultStage
from kitshare.web.upkeep.deeds import DEEDS
from tests.checks.sheets import picture, upload

pytestmark = pytest.mark.django_db

SCRIPT = "<script>alert('cloth')</script>"


def page_of(fault: Fault) -> str:
    return reverse("upkeep:fault", args=[fault.pk])


def do(browser, name: str, fault: Fault, revision: int = 1, **typed: str):
    return browser.post(reverse(f"upkeep:{name}", args=[fault.pk]), {"revision": revision} | typed)


def test_a_stranger_is_sent_to_sign_in(client, report):
    fault = report()

    for address in (page_of(fault), reverse("upkeep:mend", args=[fault.pk])):
        assert client.get(address)["Location"].startswith(reverse("people:sign_in"))


def test_the_page_says_what_where_who_and_when_it_is_needed(signed_in, teodor, report, book, mill, drive_pin):
    booking = book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    fault = report(part=drive_pin, note="The pin is bent.")

    page = signed_in(teodor).get(page_of(fault)).content.decode()

    assert "The pin is bent." in page
    assert "Red tin, in the hopper" in page
    assert "Sunniva Okparadine" in page
    assert "Goes out again in 2 days, to Fennerlow (Fri 3 Sep)." in page
    assert reverse("bookings:show", args=[booking.pk]) in page


def test_work_on_a_mill_is_cautioned_about_blades_and_electricity_and_never_called_safe(signed_in, teodor, report):
    page = signed_in(teodor).get(page_of(report())).content.decode()

    assert "unplug the mill and wait until it stands still" in page
    assert "Electrical repair and test is for a competent person under local rules." in page
    assert "safe" not in page.lower()


def test_the_page_shows_the_part_as_it_went_out_and_as_it_came_back(
    signed_in, teodor, report, book, mill, drive_pin, lead, leilani, now
):
    booking = book(mill, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    fault = report(part=drive_pin)
    for kind, condition, count, found in (("pickup", "sound", 1, None), ("return", "missing", 0, fault)):
        check = HandoverCheck.objects.create(
            booking=booking,
            kind=kind,
            outcome="handed_over",
            by=leilani,
            signed_name="Leilani Crabbwater",
            signed_role="borrower",
            done_at=now,
        )
        seen = {"check_of": check, "expected_count": 1, "count": count}
        CheckLine.objects.create(part=drive_pin, condition=condition, fault=found, **seen)
        CheckLine.objects.create(part=lead, condition="worn", **seen)

    page = signed_in(teodor).get(page_of(fault)).content.decode()

    assert page.index("Sound, 1 of 1 there.") < page.index("Missing, 0 of 1 there.")
    assert "Worn" not in page


def test_a_borrower_reads_the_page_and_may_do_nothing_to_somebody_elses_report(signed_in, leilani, report):
    answer = signed_in(leilani).get(page_of(report()))

    assert answer.status_code == 200
    assert not any(answer.context["deeds"].values())
    assert "<textarea" not in answer.content.decode()


def test_whoever_reported_it_may_add_a_note(signed_in, sunniva, report):
    fault = report()

    answer = do(signed_in(sunniva), "note", fault, text="The screw lay in the van.")

    assert answer["Location"] == page_of(fault)
    assert fault.notes.get().text == "The screw lay in the van."


@pytest.mark.parametrize("name", DEEDS)
def test_a_borrower_who_sends_a_deed_is_refused_with_a_sentence(signed_in, leilani, report, name):
    answer = do(signed_in(leilani), name, report())

    assert answer.status_code == 403
    assert "This is for maintenance volunteers and the coordinator." in answer.content.decode()


@pytest.mark.parametrize("name", DEEDS)
def test_whoever_opens_the_address_of_a_deed_lands_on_the_page(signed_in, teodor, report, name):
    fault = report()

    assert signed_in(teodor).get(reverse(f"upkeep:{name}", args=[fault.pk]))["Location"] == page_of(fault)
    fault.refresh_from_db()
    assert fault.revision == 1


def test_a_fault_is_taken_on_mended_retested_and_released(signed_in, teodor, perpetua, report):
    fault = report()
    browser = signed_in(teodor)
    assert ">Take it on</button>" in browser.get(page_of(fault)).content.decode()

    do(browser, "take", fault)
    do(browser, "mend", fault, revision=2, note="New capacitor.")
    page = browser.get(page_of(fault)).content.decode()
    assert ">Release after retest</button>" in page
    assert ">Mended</button>" not in page
    do(signed_in(perpetua), "release", fault, revision=3, retest_note="Ran ten minutes.")

    page = browser.get(page_of(fault)).content.decode()
    fault.refresh_from_db()
    assert fault.stage == FaultStage.RELEASED
    assert "Teodor Haskerby" in page
    assert "Retested and released by" in page
    assert "Ran ten minutes." in page
    assert ">Mended</button>" not in page


def test_a_failed_retest_is_sent_from_the_same_form(signed_in, teodor, report):
    fault = report()
    browser = signed_in(teodor)
    do(browser, "mend", fault, note="New capacitor.")

    do(browser, "fail", fault, revision=2, retest_note="Still hums.")

    fault.refresh_from_db()
    assert fault.stage == FaultStage.TAKEN


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("note", "Write the note first."),
        ("mend", "Say what was done: whoever retests it must know where to look."),
        ("set_aside", "Say why it stops use."),
        ("grade", "Choose how bad it is."),
    ],
)
def test_an_empty_form_is_refused_in_words(signed_in, teodor, report, name, words):
    fault = report(severity="use_with_care")

    answer = do(signed_in(teodor), name, fault, text=" ", note="  ", reason="")

    page = answer.content.decode()
    assert answer.status_code == 200
    assert page.count(words) == 2, "once in the summary, once by the field"
    assert "<title>Error:" in " ".join(page.split())
    assert fault.notes.count() == 0


def test_what_was_typed_stays_when_another_field_is_refused(signed_in, teodor, report):
    answer = do(signed_in(teodor), "grade", report(), reason="Only the lamp is out.")

    assert "Only the lamp is out." in answer.content.decode()


def test_a_mended_word_too_long_is_refused_and_kept(signed_in, teodor, report):
    long = "cloth " * 400

    answer = do(signed_in(teodor), "mend", report(), note=long)

    assert answer.status_code == 200
    assert "at most 1900 characters" in answer.content.decode()
    assert long.strip() in answer.content.decode()


def test_of_two_tabs_the_second_reads_what_changed_and_keeps_what_was_typed(signed_in, teodor, perpetua, report, now):
    fault = report()
    upkeep.note_fault(fault=fault, text="Ordered a capacitor.", by=perpetua, at=now, revision=1)
    browser = signed_in(teodor)

    answer = do(browser, "mend", fault, revision=1, note="Cleaned the switch.")

    page = answer.content.decode()
    assert answer.status_code == 409
    assert "Perpetua Quillstone wrote a note: Ordered a capacitor." in page
    assert "Cleaned the switch." in page
    assert '<input type="hidden" name="revision" value="2"' in page
    assert do(browser, "mend", fault, revision=2, note="Cleaned the switch.").status_code == 302


def test_a_deed_that_is_closed_by_now_still_keeps_what_was_typed(signed_in, teodor, report, now):
    fault = report()
    upkeep.mend_fault(fault=fault, note="Done.", by=teodor, at=now, revision=1)
    upkeep.release_fault(fault=fault, retest_note="Ran.", by=teodor, at=now, revision=2)

    answer = do(signed_in(teodor), "mend", fault, revision=3, note="Cleaned the switch.")

    assert "This fault is released already." in answer.content.decode()
    assert "Cleaned the switch." in answer.content.decode()


def test_a_double_tap_is_one_note(signed_in, teodor, report):
    fault = report()
    browser = signed_in(teodor)

    answers = [do(browser, "note", fault, text="Ordered a capacitor.") for _tap in range(2)]

    assert [answer.status_code for answer in answers] == [302, 302]
    assert fault.notes.count() == 1


def test_a_vital_part_has_no_form_for_a_milder_grade_and_says_why(signed_in, teodor, report, drive_pin):
    fault = report(part=drive_pin)
    browser = signed_in(teodor)

    page = browser.get(page_of(fault)).content.decode()
    assert "Drive pin is a vital or a guard part" in page
    assert "Change how bad it is" not in page

    answer = do(browser, "grade", fault, severity="looks_only", reason="It will do.")
    assert "its fault stops use until it is mended, retested and released" in answer.content.decode()
    fault.refresh_from_db()
    assert fault.stops_use


def test_a_machine_is_set_aside_from_the_page(signed_in, teodor, report, mill):
    fault = report(severity="use_with_care")

    do(signed_in(teodor), "set_aside", fault, reason="The lead is warm.")

    assert Fault.objects.stopping([mill]).get() == fault


def test_script_in_any_text_is_shown_as_text(signed_in, teodor, report, mill, now):
    Machine.objects.filter(pk=mill.pk).update(name=SCRIPT, caution=SCRIPT)
    fault = report(machine=Machine.objects.get(pk=mill.pk), note=SCRIPT)
    upkeep.note_fault(fault=fault, text=SCRIPT, by=teodor, at=now, revision=1)
    browser = signed_in(teodor)

    for address in (page_of(fault), reverse("upkeep:workbench"), reverse("upkeep:report", args=[mill.pk])):
        page = browser.get(address).content.decode()
        assert SCRIPT not in page
        assert "&lt;script&gt;" in page


@pytest.mark.parametrize("revision", ["", "x", "-1", "9" * 40, "\x00"])
def test_a_bent_revision_is_refused_and_nothing_falls_over(signed_in, teodor, report, revision, subtests):
    browser, fault = signed_in(teodor), report()

    for name in DEEDS:
        with subtests.test(name=name):
            answer = do(browser, name, fault, revision=revision, text="a", note="b", reason="c", severity="looks_only")
            assert answer.status_code in {200, 409}
    assert not fault.notes.exists()


@pytest.mark.parametrize("pk", [0, 10**30])
def test_a_fault_that_does_not_exist_is_not_found(signed_in, teodor, pk):
    assert signed_in(teodor).get(reverse("upkeep:fault", args=[pk])).status_code == 404


@pytest.mark.parametrize("number", [0, 12])
def test_the_page_costs_the_same_however_long_the_story(
    signed_in, teodor, report, number, now, django_assert_num_queries
):
    fault = report()
    for place in range(number):
        upkeep.note_fault(fault=fault, text=f"Note {place}", by=teodor, at=now, revision=place + 1)
    browser = signed_in(teodor)
    browser.get(page_of(fault))

    # session, member, scheme; the fault, its notes, what needs the machine, who has it, the check lines, the photos,
    # what was used, what is on the shelves;
    # which follow it, asked and listed, and which it could follow
    with django_assert_num_queries(14):
        browser.get(page_of(fault))


def test_handed_on_waiting_and_given_up_are_done_from_the_page(signed_in, teodor, perpetua, report):
    fault = report(severity="use_with_care")
    browser = signed_in(teodor)
    do(browser, "take", fault)

    do(browser, "wait", fault, revision=2, waits_for="Drive belt", expected_on="2027-09-10")
    page = browser.get(page_of(fault)).content.decode()
    assert "Waits for: Drive belt, expected on Fri 10 Sep." in page
    assert "The part is here" in page
    assert "Waits for: Drive belt" in browser.get("/workbench/?show=waits").content.decode()
    do(browser, "go_on", fault, revision=3)
    do(browser, "hand_on", fault, revision=4, to=perpetua.pk, text="You have the spanner.")
    do(signed_in(perpetua), "give_up", fault, revision=5, reason="It runs as it is.")

    page = browser.get(page_of(fault)).content.decode()
    fault.refresh_from_db()
    assert fault.stage == FaultStage.GIVEN_UP
    assert "This fault was given up." in page
    assert "It runs as it is." in page
    assert "Given up by Perpetua Quillstone" in browser.get("/workbench/?show=released").content.decode()


def test_what_stops_a_machine_in_use_offers_no_giving_up_and_refuses_it_in_words(signed_in, teodor, guard, report):
    fault = report(part=guard)
    browser = signed_in(teodor)

    assert "Give it up" not in browser.get(page_of(fault)).content.decode()
    page = do(browser, "give_up", fault, reason="Lost in the orchard.").content.decode()

    assert "Feed guard is a vital or a guard part, and a machine that needs it is in use" in page
    assert "Lost in the orchard." in page


@pytest.mark.parametrize("day", ["", "2027-08-31", "9999-12-31", "0001-01-01", "x", "9" * 40])
def test_an_impossible_day_keeps_what_was_typed(signed_in, teodor, report, day):
    fault = report()

    answer = do(signed_in(teodor), "wait", fault, waits_for="Drive belt", expected_on=day)

    assert answer.status_code == 200
    assert 'value="Drive belt"' in answer.content.decode()
    assert fault.notes.count() == 0


def test_a_fault_of_what_is_retired_says_so(signed_in, teodor, guard, mill, report, today):
    fault = report(part=guard)
    browser = signed_in(teodor)
    guard.retired_on = today
    guard.save()
    assert "Heron mill cannot do without such a part" in browser.get(page_of(fault)).content.decode()
    answer = browser.post(
        reverse("upkeep:report", args=[mill.pk]), {"part": guard.pk, "note": "Bent.", "severity": "stops_use"}
    )
    assert "That part is retired, or belongs to another machine." in answer.content.decode()

    mill.retired_on = today
    mill.save()
    assert "Heron mill is retired, so nobody takes it out." in browser.get(page_of(fault)).content.decode()
    answer = browser.get(reverse("upkeep:report", args=[mill.pk]))
    assert answer.status_code == 409
    assert "no fault of it is reported" in answer.content.decode()


def test_time_and_money_are_given_with_notes_and_mending_and_summed_on_the_page(signed_in, teodor, scheme, report):
    scheme.currency = "marks"
    scheme.save()
    fault = report()
    browser = signed_in(teodor)

    do(browser, "note", fault, text="Looked for the noise.", minutes="50", money="")
    do(browser, "mend", fault, revision=2, note="New bearing.", minutes="45", money="1240,5")

    page = " ".join(browser.get(page_of(fault)).content.decode().split())
    assert "1 h 35 min" in page
    assert "1,240.50 marks" in page
    assert "Money spent, in marks" in page
    page = do(browser, "note", fault, revision=3, text="Cleaned.", minutes="-5", money="x").content.decode()
    assert "Write an amount, such as 12.50." in page
    assert "Cleaned." in page
    assert fault.notes.count() == 2


def test_a_photo_is_added_on_the_page_and_shown_to_every_member(signed_in, sunniva, leilani, report, client):
    fault = report()
    browser = signed_in(sunniva)
    address = reverse("upkeep:photo_new", args=[fault.pk])

    refused = browser.post(address, {"when": "before", "photo": upload(b"no picture")})
    assert "This file could not be read as a photo." in refused.content.decode()
    assert browser.post(address, {"when": "x", "photo": upload(picture())}).status_code == 422
    browser.post(address, {"when": "before", "photo": upload(picture())})

    kept = reverse("upkeep:photo", args=[fault.photos.get().key])
    other = signed_in(leilani)
    page = other.get(page_of(fault)).content.decode()
    assert kept in page
    assert "Before the mending" in page
    assert "Add a photo" not in page
    assert b"".join(other.get(kept).streaming_content).startswith(b"\xff\xd8")  # a JPEG
    assert other.post(address, {"when": "before", "photo": upload(picture((9, 9)))}).status_code == 403
    client.logout()
    assert client.get(kept).status_code == 302


def test_a_report_brings_its_photo_and_stands_without_it(signed_in, sunniva, mill):
    browser, address = signed_in(sunniva), reverse("upkeep:report", args=[mill.pk])
    typed = {"note": "The lead is cut.", "severity": "stops_use"}

    browser.post(address, typed | {"photo": upload(picture())})
    answer = browser.post(address, typed | {"note": "Hums.", "photo": upload(b"no picture")}, follow=True)

    assert [fault.photos.count() for fault in Fault.objects.order_by("pk")] == [1, 0]
    assert "The photo is not kept: This file could not be read" in answer.content.decode()


def test_joined_faults_are_one_line_of_the_workbench_and_both_pages_say_so(
    signed_in, teodor, report, book, mill, press
):
    book(press, out_on=date(2027, 9, 3), back_on=date(2027, 9, 5))
    main = report(note="The lead is chafed.", severity="use_with_care")
    joined = report(machine=press, note="It stands still.")
    browser = signed_in(teodor)
    assert "Heron mill: The lead is chafed." in browser.get(page_of(joined)).content.decode()

    do(browser, "join", joined, main=main.pk)

    bench = browser.get("/workbench/")
    (row,) = [row.record for row in bench.context["table"].paginated_rows]
    assert (row.key, row.line.why[:27]) == (main.pk, "Goes out again in 2 days, t")
    assert "and 1 joined to it" in bench.content.decode()
    assert "joined to it: stops use" in bench.content.decode()
    assert page_of(joined) in browser.get(page_of(main)).content.decode()
    page = browser.get(page_of(joined)).content.decode()
    assert page_of(main) in page
    assert "Until that one is released, Heron press stays set aside." in page
    assert "joined to the one of Heron mill" in do(browser, "mend", joined, revision=2, note="Done.").content.decode()

    do(browser, "part", joined, revision=2)

    assert len(browser.get("/workbench/").context["table"].rows) == 2
    assert "Choose again." in do(browser, "join", main, revision=3, main="9" * 40).content.decode()
