"""The page of a plan: what it shows, what it refuses, and that nothing typed is lost."""

import re
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from django.utils.html import strip_tags

from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.models import PressPlan

pytestmark = pytest.mark.django_db


def words(answer):
    """What a person reads, with all white space as single spaces."""
    return re.sub(r"\s+", " ", unescape(strip_tags(answer.content.decode())))


@pytest.fixture
def page(booking):
    return reverse("pressdays:plan", args=[booking.pk])


@pytest.fixture
def typed(bottle, box):
    """What a form sends: a yield and a mix, changed in whatever a test is about."""

    def typed(**changes):
        sent = {"yield_expected": "0.55", f"share-{bottle.pk}": "60", f"share-{box.pk}": "40", "revision": "0"}
        names = {"bottles": f"share-{bottle.pk}", "boxes": f"share-{box.pk}", "its_yield": "yield_expected"}
        return sent | {names.get(name, name): value for name, value in changes.items()}

    return typed


def test_an_unplanned_booking_shows_the_usual_yield_and_mix_and_says_so(signed_in, sunniva, page, bottle, box):
    seen = words(signed_in(sunniva).get(page))

    assert "No plan is saved yet: this is the scheme’s usual yield and mix" in seen
    assert "Between 180 litres and 280 litres, most likely about 220 litres." in seen
    assert "At the high yield there would be 40 litres more" in seen
    assert "75 in a hundred · 250 filled, 13 in case of breakage 263" in seen
    assert "Between 107 kg and 212 kg: bring 15 sacks, each filled to at most 15 kg." in seen
    assert "All of the juice is shared out." in seen


def test_a_plan_is_saved_and_then_shown_with_whose_it_is(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(its_yield="0,62") | {"save": "1"}, follow=True)

    assert answer.redirect_chain == [(page, 302)]
    assert "The plan is saved." in words(answer)
    assert "by the plan that Sunniva Okparadine saved on" in words(answer)
    assert PressPlan.objects.get().yield_expected == Decimal("0.62")


def test_a_plan_saved_on_the_bookings_own_page_leads_back_there(signed_in, sunniva, booking, page, typed):
    answer = signed_in(sunniva).post(page, typed() | {"save": "1", "from_booking": "1"})

    assert answer.headers["Location"] == f"{reverse('bookings:show', args=[booking.pk])}#plan-title"


def test_showing_the_result_saves_nothing_and_keeps_what_was_typed(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(its_yield="0.70", bottles="0", boxes="100") | {"show": "1"})

    assert "most likely about 280 litres" in words(answer)
    assert 'value="0.70"' in answer.content.decode()
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize("its_yield", ["0", "3", "abc", "", "-0.55", "NaN", "1e999999", "0,5,5", "9" * 300])
def test_a_yield_that_cannot_be_is_refused_by_its_field_and_stays_as_typed(signed_in, sunniva, page, typed, its_yield):
    answer = signed_in(sunniva).post(page, typed(its_yield=its_yield) | {"save": "1"})

    assert answer.status_code == 200
    assert "<title>Error:" in answer.content.decode()
    assert words(answer).count("A yield lies between 0.20 and 0.85 litres from a kilogram.") == 2
    assert its_yield == "" or f'value="{its_yield}"' in answer.content.decode()
    assert "The yield cannot be read." in words(answer)
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize(
    ("bottles", "boxes", "sentence", "counted"),
    [
        ("60", "25", "15 more parts in a hundred to share out.", True),
        ("60", "50", "10 parts in a hundred too many: take some away.", False),
        ("-5", "105", "A share is 0 or more.", True),
        ("150", "0", "A share is 100 at most.", True),
        ("abc", "40", "Write whole parts of a hundred, such as 40.", True),
        ("12.5", "40", "Write whole parts of a hundred, such as 40.", True),
        ("9" * 5000, "40", "Write whole parts of a hundred, such as 40.", True),
        ("", "", "100 more parts in a hundred to share out.", True),
    ],
)
def test_a_mix_that_cannot_be_is_refused_stays_as_typed_and_still_shows_the_juice(
    signed_in, sunniva, page, typed, bottles, boxes, sentence, counted
):
    answer = signed_in(sunniva).post(page, typed(bottles=bottles, boxes=boxes) | {"save": "1"})

    seen = words(answer)
    assert seen.count(sentence) >= 2
    assert f'value="{bottles}"' in answer.content.decode() or not bottles
    assert "most likely about 220 litres" in seen
    assert ("Containers are counted again as soon as the mix comes to 100." in seen) is not counted
    assert not PressPlan.objects.exists()


def test_a_share_with_a_percent_sign_is_read(signed_in, sunniva, page, typed):
    signed_in(sunniva).post(page, typed(bottles=" 60 %", boxes="40%") | {"save": "1"})

    assert [share.percent for share in PressPlan.objects.get().shares.order_by("pk")] == [60, 40]


def test_a_kind_that_does_not_exist_is_left_out_with_a_word(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(boxes="0") | {"share-999999999999999999999": "40", "save": "1"})

    assert "A kind of container that you gave a share is not known here." in words(answer)
    assert "40 more parts in a hundred to share out." in words(answer)
    assert not PressPlan.objects.exists()


def test_a_kind_retired_while_the_page_was_open_keeps_what_was_typed_and_says_so(
    signed_in, sunniva, page, typed, box, perpetua, now, today
):
    pressdays.retire_container_kind(kind=box, on=today, by=perpetua, at=now)

    answer = signed_in(sunniva).post(page, typed() | {"save": "1"})

    assert words(answer).count("5 L bag-in-box is no longer in use. Give its share to another kind.") == 2
    assert f'name="share-{box.pk}" value="40"' in answer.content.decode()
    assert not PressPlan.objects.exists()


def test_a_retired_kind_in_a_plan_is_shown_as_such_and_stays(signed_in, sunniva, page, save, box, perpetua, now, today):
    save({box: 100})
    pressdays.retire_container_kind(kind=box, on=today, by=perpetua, at=now)

    answer = signed_in(sunniva).get(page)

    assert "5 L bag-in-box no longer in use" in words(answer)
    assert f'name="share-{box.pk}" value="100"' in answer.content.decode()


def test_the_second_of_two_tabs_is_told_what_the_first_saved_and_can_then_save(
    signed_in, sunniva, page, typed, save, perpetua, bottle, box
):
    save({bottle: 30, box: 70}, "0.60", by=perpetua)
    browser = signed_in(sunniva)

    told = browser.post(page, typed() | {"save": "1"})
    again = browser.post(page, typed(revision=told.context["form"].seen_revision) | {"save": "1"}, follow=True)

    assert "Perpetua Quillstone saved another plan since you opened this page." in words(told)
    assert "Saved now: 0.6 L/kg, 30 % in 0.75 L glass bottle, 70 % in 5 L bag-in-box." in words(told)
    assert f'name="share-{bottle.pk}" value="60"' in told.content.decode()
    assert "The plan is saved." in words(again)
    assert PressPlan.objects.get().yield_expected == Decimal("0.55")


def test_a_form_refused_for_its_yield_does_not_learn_of_a_newer_plan_unsaid(
    signed_in, sunniva, page, typed, save, perpetua, box
):
    save({box: 100}, by=perpetua)

    answer = signed_in(sunniva).post(page, typed(its_yield="abc") | {"save": "1"})

    assert 'name="revision" value="0"' in answer.content.decode()


@pytest.mark.parametrize("revision", ["", "abc", "-1", "9" * 40, "١"])
def test_a_forged_revision_is_none_and_breaks_nothing(signed_in, sunniva, page, typed, save, perpetua, box, revision):
    save({box: 100}, by=perpetua)
    save({box: 100}, "0.5", by=perpetua)

    answer = signed_in(sunniva).post(page, typed(revision=revision) | {"save": "1"})

    assert "saved another plan since you opened this page" in words(answer)


def test_a_booking_of_another_village_is_not_there(signed_in, leilani, fennerlow, page, typed):
    browser = signed_in(leilani)

    assert browser.get(page).status_code == 404
    assert browser.get(f"{page}preview/").status_code == 404
    assert browser.post(page, typed() | {"save": "1"}).status_code == 404


def test_a_maintenance_volunteer_reads_and_is_refused_with_a_sentence(signed_in, teodor, page, typed, bottle):
    browser = signed_in(teodor)

    read, written = browser.get(page), browser.post(page, typed() | {"save": "1"})

    assert "most likely about 220 litres" in words(read)
    assert "Save this plan" not in words(read)
    assert written.status_code == 403
    assert "The plan is changed by those who sign for Sorrelhythe and by the coordinator." in words(written)


def test_a_booking_called_off_is_read_only(signed_in, sunniva, page, typed, call_off):
    call_off()
    browser = signed_in(sunniva)

    read, written = browser.get(page), browser.post(page, typed() | {"save": "1"}, follow=True)

    assert "This booking is called off, so its plan stays as it is." in words(read)
    assert "Save this plan" not in words(read)
    assert "This booking is called off" in words(written)
    assert not PressPlan.objects.exists()


def test_a_stranger_is_sent_to_sign_in(client, scheme, page):
    assert client.get(page).status_code == 302


def test_without_kinds_the_page_shows_the_juice_and_says_what_to_do(signed_in, sunniva, perpetua, page):
    borrower, coordinator = words(signed_in(sunniva).get(page)), words(signed_in(perpetua).get(page))

    assert "most likely about 220 litres" in borrower
    assert "Ask the coordinator to enter them." in borrower
    assert "begin with a starter set" in coordinator


def test_what_is_tried_out_is_worked_out_and_not_saved(signed_in, sunniva, page, typed, bottle):
    answer = signed_in(sunniva).get(f"{page}preview/", typed(boxes="25"), headers={"HX-Request": "true"})

    seen = answer.content.decode()
    assert "15 more parts in a hundred to share out." in words(answer)
    assert "About 36 litres would be without a container." in words(answer)
    assert f'id="plan-count-share-{bottle.pk}" hx-swap-oob' in seen
    assert "<form" not in seen
    assert "<input" not in seen
    assert not PressPlan.objects.exists()


def test_while_the_yield_cannot_be_read_the_mix_is_still_followed(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).get(
        f"{page}preview/", typed(its_yield="0.", boxes="25"), headers={"HX-Request": "true"}
    )
    unread = signed_in(sunniva).get(f"{page}preview/", typed(its_yield="x", boxes="25"), headers={"HX-Request": "true"})

    for each in (answer, unread):
        assert "The yield cannot be read." in words(each)
        assert "15 more parts in a hundred to share out." in words(each)


def test_a_preview_opened_as_a_page_leads_to_the_plan(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).get(f"{page}preview/", typed())

    assert (answer.status_code, answer.headers["Location"]) == (302, page)


def test_a_heavy_sack_is_pointed_out_with_local_rules_first(signed_in, sunniva, page, bottle, scheme):
    scheme.pomace_sack_kg = Decimal(20)
    scheme.save()

    seen = words(signed_in(sunniva).get(page))

    assert "A sack of 20 kg is over the 16 kg that the lifting guide gives for one person" in seen
    assert "lift it by two. Local rules come first." in seen


def test_amounts_are_in_the_schemes_units_and_the_working_says_in_which_it_was_done(
    signed_in, sunniva, page, bottle, scheme
):
    scheme.units = "us"
    scheme.save()

    seen = words(signed_in(sunniva).get(page))

    # 220 L over 3.785411784 L a US gallon; 400 kg over 0.45359237 kg a pound.
    assert "most likely about 58.1 US gallons" in seen
    assert "For 882 lb of fruit" in seen
    assert "Worked out in kilograms and litres" in seen


def test_the_page_never_calls_anything_safe(signed_in, perpetua, page, bottle, box):
    assert not re.search(r"\bsafe", words(signed_in(perpetua).get(page)), re.IGNORECASE)


def test_script_in_a_field_is_shown_as_text(signed_in, sunniva, page, typed, add_kind):
    add_kind("<script>alert(1)</script>", "1")

    answer = signed_in(sunniva).post(page, typed(its_yield='"><script>alert(2)</script>') | {"save": "1"})

    assert "<script>alert" not in answer.content.decode()


@pytest.mark.parametrize("planned", [False, True])
def test_the_page_asks_the_database_as_often_for_twelve_kinds_as_for_one(
    signed_in, sunniva, page, add_kind, save, planned, django_assert_num_queries, django_assert_max_num_queries
):
    first = add_kind("first", "1", usual_parts=1)
    if planned:
        save({first: 100})
    browser = signed_in(sunniva)
    with django_assert_max_num_queries(8) as few:
        browser.get(page)

    kinds = [add_kind(f"kind {number}", "2", usual_parts=1) for number in range(11)]
    if planned:
        save(dict.fromkeys(kinds, 9) | {first: 1})

    with django_assert_num_queries(len(few)):
        browser.get(page)


def test_the_bookings_own_page_shows_what_to_bring_and_takes_the_plan(signed_in, sunniva, booking, page, bottle, box):
    answer = signed_in(sunniva).get(reverse("bookings:show", args=[booking.pk]))

    assert "Between 180 litres and 280 litres, most likely about 220 litres." in words(answer)
    assert f'action="{page}"' in answer.content.decode()
    assert 'name="from_booking"' in answer.content.decode()


def test_the_scheme_page_leads_to_the_containers(signed_in, perpetua):
    assert f'href="{reverse("pressdays:kinds")}"' in signed_in(perpetua).get("/scheme/").content.decode()
