"""The page of a plan: what it shows, what it refuses, and that nothing typed is lost."""

import re
from decimal import Decimal
from html import unescape

import pytest
from django.urls import reverse
from django.utils.html import strip_tags

from kitshare.bookings.fruit import change_fruit
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import PressPlan
from kitshare.rules.containers import Use

pytestmark = pytest.mark.django_db


def words(answer):
    """What a person reads, with all white space as single spaces."""
    return re.sub(r"\s+", " ", unescape(strip_tags(answer.content.decode())))


@pytest.fixture
def page(booking):
    return reverse("pressdays:plan", args=[booking.pk])


@pytest.fixture
def typed(bottle, box):
    """What a form sends: fruit, a mix and what is at hand, changed in whatever a test is about."""

    def typed(**changes):
        sent = {
            "fruit_amount": "25",
            "fruit_unit": "crate",
            "fruit_was": "25.0 crate",
            "fruit_word": "",
            "sorted_out_percent": "0",
            "yield_expected": "",
            "percent-heated-0": "60",
            "kind-heated-0": str(bottle.pk),
            "percent-fresh-0": "40",
            "kind-fresh-0": str(box.pk),
            f"at_hand-{bottle.pk}": "0",
            "revision": "0",
        }
        return sent | {NAMES.get(name, name): value for name, value in changes.items()}

    return typed


NAMES = {
    "bottles": "percent-heated-0",
    "boxes": "percent-fresh-0",
    "into": "kind-heated-0",
    "its_yield": "yield_expected",
    "loss": "sorted_out_percent",
}
SAVE = {"save": "1"}


def tried(browser, page, sent):
    return browser.get(f"{page}preview/", sent, headers={"HX-Request": "true"})


def test_an_unplanned_booking_shows_the_forecast_and_the_usual_mix_and_says_so(signed_in, sunniva, page, bottle, box):
    seen = words(signed_in(sunniva).get(page))

    assert "No plan is saved yet: this is the forecast and the scheme’s usual mix" in seen
    # The published range, 0.40 to 0.70 about 0.55; three quarters heated, in bottles of 0.72, one in twenty over.
    assert "Between 160 litres and 280 litres, nine days in ten; most likely about 220 litres." in seen
    assert "no press day of this scheme is recorded yet" in seen
    assert "heated: about 165 litres, at the most 210 litres" in seen
    assert "307 to buy · 292 filled, 15 in case of breakage · 307 caps" in seen
    assert "Between 107 kg and 233 kg: bring 16 sacks, each filled to at most 15 kg." in seen
    assert "All of the juice is shared out." in seen
    assert (
        "In case of breakage of re-used glass: 5 for each hundred filled: the usual allowance, since nothing is"
        " recorded yet." in seen
    )


def test_recorded_days_stand_behind_the_forecast_and_the_page_says_how_many(
    signed_in, sunniva, page, bottle, record_day
):
    record_day()

    seen = words(signed_in(sunniva).get(page))

    assert "It rests on the published range and on 1 recorded press day of this scheme." in seen
    assert "trusted like two days of our own, and 1 recorded press day" in seen


def test_bottles_that_broke_before_are_brought_over_and_the_page_says_from_which_days(
    signed_in, sunniva, scheme, page, bottle, record_day
):
    scheme.breakage_percent = Decimal(20)
    scheme.save()
    record_day(reused_brought=300, reused_broken=50)

    seen = words(signed_in(sunniva).get(page))

    # A sixth of 600 were believed broken, and a sixth were: one in five filled, whatever the day gave of juice.
    assert "20 for each hundred filled, from the usual allowance and the scheme’s own day (50 of 300)." in seen
    filled, spares = map(int, re.search(r"(\d+) filled, (\d+) in case of breakage", seen).groups())
    assert spares == -(-filled // 5)
    assert "beta distribution: the scheme’s own figure, worth 600 bottles, and 50 of 300 on recorded days" in seen


def test_a_plan_is_saved_and_then_shown_with_whose_it_is(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(its_yield="0,62") | SAVE, follow=True)

    assert answer.redirect_chain == [(page, 302)]
    assert "The plan is saved." in words(answer)
    assert "by the plan that Sunniva Okparadine saved on" in words(answer)
    assert "Its middle is the yield that you expect." in words(answer)
    assert PressPlan.objects.get().yield_expected == Decimal("0.62")


def test_a_whole_plan_comes_back_as_it_was_typed(signed_in, sunniva, page, typed, bottle, booking):
    browser = signed_in(sunniva)
    facts = {"fruit_amount": "30", "fruit_word": "pears", "loss": "5", "bottles": "100", "boxes": "0"}

    answer = browser.post(page, typed(**facts) | {f"at_hand-{bottle.pk}": "120"} | SAVE, follow=True)

    seen, html = words(answer), answer.content.decode()
    booking.refresh_from_db()
    assert (booking.fruit_kg, PressPlan.objects.get().fruit_word) == (480, "pears")
    # 480 kg less 5 in 100, 0.70 L/kg at the most: 319.2 litres in 0.72 each are 444, and 23 in case of breakage.
    assert "456 kg go into the mill; 24 kg are sorted out before it." in seen
    assert "120 of yours, 347 to buy · 444 filled, 23 in case of breakage" in seen
    assert 'value="pears"' in html
    assert f'name="at_hand-{bottle.pk}" value="120"' in html


def test_showing_the_result_saves_nothing_and_keeps_what_was_typed(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(its_yield="0.70", bottles="0", boxes="100") | {"show": "1"})

    assert "most likely about 280 litres" in words(answer)
    assert 'value="0.70"' in answer.content.decode()
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize("its_yield", ["0", "3", "abc", "-0.55", "NaN", "1e999999", "0,5,5", "9" * 300])
def test_a_yield_that_cannot_be_is_refused_by_its_field_and_stays_as_typed(signed_in, sunniva, page, typed, its_yield):
    answer = signed_in(sunniva).post(page, typed(its_yield=its_yield) | SAVE)

    assert answer.status_code == 200
    assert "<title>Error:" in answer.content.decode()
    assert 'id="plan-yield_expected_error"' in answer.content.decode()
    assert words(answer).count("A yield lies between 0.20 and 0.85 litres from a kilogram.") == 3
    assert f'value="{its_yield}"' in answer.content.decode()
    assert "The juice appears here as soon as the figures can be read." in words(answer)
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize(
    ("amount", "unit", "field", "sentence"),
    [
        ("0", "kg", "fruit_amount", "greater than or equal to 0.1"),
        ("500 000", "kg", "fruit_amount", "less than or equal to 50000"),
        ("30000", "kg", "fruit_amount", "Give the fruit as a number above 0, at most 20,000 kilograms in all."),
        ("100", "large_tree", "fruit_amount", "at most 20,000 kilograms in all."),
        ("many", "kg", "fruit_amount", "Enter a number."),
        ("", "kg", "fruit_amount", "This field is required."),
        ("NaN", "kg", "fruit_amount", "Enter a number."),
        ("10", "bushel", "fruit_unit", "Select a valid choice."),
        ("10", "barrel", "fruit_unit", "Select a valid choice."),
    ],
)
def test_fruit_that_cannot_be_is_refused_by_its_field_and_stays(
    signed_in, sunniva, page, typed, booking, amount, unit, field, sentence
):
    answer = signed_in(sunniva).post(page, typed(fruit_amount=amount, fruit_unit=unit) | SAVE)

    assert f'id="plan-{field}_error"' in answer.content.decode()
    assert sentence in words(answer)
    assert amount == "" or f'value="{amount}"' in answer.content.decode()
    booking.refresh_from_db()
    assert (booking.fruit_kg, PressPlan.objects.exists()) == (400, False)


@pytest.mark.parametrize("loss", ["91", "-1", "abc", "9" * 400])
def test_sorting_out_that_cannot_be_is_refused_by_its_field(signed_in, sunniva, page, typed, loss):
    answer = signed_in(sunniva).post(page, typed(loss=loss) | SAVE)

    assert 'id="plan-sorted_out_percent_error"' in answer.content.decode()
    assert f'value="{loss}"' in answer.content.decode()
    assert not PressPlan.objects.exists()


@pytest.mark.parametrize("number", ["-1", "20001", "some", "1.5", "9" * 400])
def test_a_number_at_hand_that_cannot_be_is_refused_by_its_field(signed_in, sunniva, page, typed, bottle, number):
    answer = signed_in(sunniva).post(page, typed() | {f"at_hand-{bottle.pk}": number} | SAVE)

    assert f'id="plan-at_hand-{bottle.pk}_error"' in answer.content.decode()
    assert f'value="{number}"' in answer.content.decode()
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
    answer = signed_in(sunniva).post(page, typed(bottles=bottles, boxes=boxes) | SAVE)

    seen = words(answer)
    assert seen.count(sentence) >= 2
    assert f'value="{bottles}"' in answer.content.decode() or not bottles
    assert "most likely about 220 litres" in seen
    assert ("Containers are counted again as soon as the mix comes to 100." in seen) is not counted
    assert not PressPlan.objects.exists()


def test_a_share_with_a_percent_sign_is_read(signed_in, sunniva, page, typed):
    signed_in(sunniva).post(page, typed(bottles=" 60 %", boxes="40%") | SAVE)

    assert [share.percent for share in PressPlan.objects.get().shares.order_by("pk")] == [60, 40]


def test_a_container_that_may_not_hold_its_juice_is_refused_beside_its_field_with_the_reason(
    signed_in, sunniva, page, typed, box
):
    browser = signed_in(sunniva)
    reason = "5 L bag-in-box may not hold juice that is heated: nobody has said what heat it bears"

    answer = browser.post(page, typed(into=str(box.pk)) | SAVE)
    preview = tried(browser, page, typed(into=str(box.pk)))

    html = answer.content.decode()
    assert re.search(rf'id="plan-kind-heated-0_error">.*{reason}', html)
    assert 'href="#plan-kind-heated-0"' in html
    assert f'<option value="{box.pk}" selected>' in html.split('name="kind-heated-0"')[1]
    assert words(preview).count(reason) == 2
    assert "Nothing is counted for it: choose another container." in words(preview)
    assert not PressPlan.objects.exists()


def test_juice_for_which_no_container_is_chosen_is_asked_for(signed_in, sunniva, page, typed):
    answer = signed_in(sunniva).post(page, typed(into="") | SAVE)

    assert 'id="plan-kind-heated-0_error"' in answer.content.decode()
    assert words(answer).count("Choose what this juice goes into.") == 2


def test_the_same_container_twice_for_one_use_is_refused(signed_in, sunniva, page, typed, bottle):
    second = {"percent-heated-1": "20", "kind-heated-1": str(bottle.pk)}

    answer = signed_in(sunniva).post(page, typed(bottles="40") | second | SAVE)

    assert 'id="plan-kind-heated-1_error"' in answer.content.decode()
    assert "0.75 L glass bottle stands here twice for one use." in words(answer)


def test_a_use_may_be_split_between_two_containers_without_a_script(signed_in, sunniva, page, typed, box, add_kind):
    jar = add_kind("1 L jar", "1", material="glass", fill_fraction=None)
    browser = signed_in(sunniva)

    wider = browser.post(page, typed(bottles="40") | {"more": "heated"})
    browser.post(page, typed(bottles="40") | {"percent-heated-1": "20", "kind-heated-1": str(jar.pk)} | SAVE)

    assert 'name="percent-heated-1"' in wider.content.decode()
    assert 'name="percent-heated-2"' not in wider.content.decode()
    shares = PressPlan.objects.get().shares.order_by("pk")
    assert [(share.use, share.kind.name, share.percent) for share in shares] == [
        ("heated", "0.75 L glass bottle", 40),
        ("heated", "1 L jar", 20),
        ("fresh", "5 L bag-in-box", 40),
    ]


@pytest.mark.parametrize("key", ["999999999999999999999", "abc", "-1"])
def test_a_kind_that_does_not_exist_is_refused_by_its_field(signed_in, sunniva, page, typed, key):
    answer = signed_in(sunniva).post(page, typed(into=key) | SAVE)

    assert "This kind of container is not known here. Choose another." in words(answer)
    assert not PressPlan.objects.exists()


def test_a_kind_retired_while_the_page_was_open_keeps_what_was_typed_and_says_so(
    signed_in, sunniva, page, typed, box, perpetua, now, today
):
    containers.retire_container_kind(kind=box, on=today, by=perpetua, at=now)

    answer = signed_in(sunniva).post(page, typed() | SAVE)

    assert words(answer).count("5 L bag-in-box is no longer in use. Give its share to another kind.") == 2
    assert f'<option value="{box.pk}" selected>' in answer.content.decode()
    assert 'name="percent-fresh-0" value="40"' in answer.content.decode()
    assert not PressPlan.objects.exists()


def test_a_retired_kind_in_a_plan_is_shown_as_such_and_stays(signed_in, sunniva, page, save, box, perpetua, now, today):
    save({box: 100})
    containers.retire_container_kind(kind=box, on=today, by=perpetua, at=now)

    answer = signed_in(sunniva).get(page)

    assert "5 L bag-in-box no longer in use" in words(answer)
    assert 'name="percent-fresh-0" value="100"' in answer.content.decode()


def test_a_saved_plan_that_the_schemes_heat_now_forbids_says_so(signed_in, sunniva, page, save, add_kind, scheme):
    bag = add_kind("Hot bag", "5", material="film", fill_fraction=None, highest_fill_c=Decimal(78))
    save({bag: 100})
    scheme.heat_target_c = Decimal(80)
    scheme.save()

    seen = words(signed_in(sunniva).get(page))

    assert seen.count("Hot bag may not hold juice that is heated: it bears 78 °C and the juice will be 80 °C.") == 2


def test_what_the_village_has_goes_in_first_and_the_scheme_lends_the_rest(signed_in, sunniva, page, save, bottle):
    bottle.lent = 200
    bottle.save()
    save({bottle: 100}, None, at_hand={bottle: 150})

    seen = words(signed_in(sunniva).get(page))

    assert "150 of yours, 200 to borrow from the scheme, 59 to buy · 389 filled, 20 in case of breakage" in seen
    assert "200 to borrow from the scheme" in seen


def test_the_second_of_two_tabs_is_told_what_the_first_saved_and_can_then_save(
    signed_in, sunniva, page, typed, save, perpetua, bottle, box
):
    save({bottle: 30, box: 70}, "0.60", by=perpetua)
    browser = signed_in(sunniva)

    told = browser.post(page, typed(its_yield="0.55") | SAVE)
    again = browser.post(page, typed(its_yield="0.55", revision=told.context["form"].seen_revision) | SAVE, follow=True)

    assert "Perpetua Quillstone saved another plan since you opened this page." in words(told)
    assert "Saved now: 0.6 L/kg; 30 % heated, in 0.75 L glass bottle; 70 % fresh, in 5 L bag-in-box." in words(told)
    assert 'name="percent-heated-0" value="60"' in told.content.decode()
    assert "The plan is saved." in words(again)
    assert PressPlan.objects.get().yield_expected == Decimal("0.55")


def test_fruit_changed_meanwhile_is_told_and_what_was_typed_can_then_be_saved(
    signed_in, sunniva, page, typed, booking, perpetua, now
):
    change_fruit(booking=booking, fruit_amount=Decimal(20), fruit_unit="sack", by=perpetua, at=now)
    browser = signed_in(sunniva)

    told = browser.post(page, typed(fruit_amount="30") | SAVE)
    browser.post(page, typed(fruit_amount="30", fruit_was=told.context["form"].fruit_was) | SAVE)

    assert "Since you opened this page the booking was changed to 20 sacks." in words(told)
    assert 'value="30"' in told.content.decode()
    booking.refresh_from_db()
    assert (booking.fruit_amount, booking.fruit_unit) == (30, "crate")


@pytest.mark.parametrize("fruit_was", ["", "abc", "NaN crate", "1e9 kg", "25"])
def test_a_forged_note_of_the_fruit_breaks_nothing(signed_in, sunniva, page, typed, booking, fruit_was):
    answer = signed_in(sunniva).post(page, typed(fruit_was=fruit_was) | SAVE)

    booking.refresh_from_db()
    assert answer.status_code in {200, 302}
    assert (booking.fruit_amount, booking.fruit_unit) == (25, "crate")


def test_a_form_refused_for_its_yield_does_not_learn_of_a_newer_plan_unsaid(
    signed_in, sunniva, page, typed, save, perpetua, box
):
    save({box: 100}, by=perpetua)

    answer = signed_in(sunniva).post(page, typed(its_yield="abc") | SAVE)

    assert 'name="revision" value="0"' in answer.content.decode()


@pytest.mark.parametrize("revision", ["", "abc", "-1", "9" * 40, "١"])
def test_a_forged_revision_is_none_and_breaks_nothing(signed_in, sunniva, page, typed, save, perpetua, box, revision):
    save({box: 100}, by=perpetua)
    save({box: 100}, "0.5", by=perpetua)

    answer = signed_in(sunniva).post(page, typed(revision=revision) | SAVE)

    assert "saved another plan since you opened this page" in words(answer)


def test_a_booking_of_another_village_is_not_there(signed_in, leilani, fennerlow, page, typed):
    browser = signed_in(leilani)

    assert browser.get(page).status_code == 404
    assert browser.get(f"{page}preview/").status_code == 404
    assert browser.post(page, typed() | SAVE).status_code == 404


def test_a_maintenance_volunteer_reads_and_is_refused_with_a_sentence(signed_in, teodor, page, typed, bottle):
    browser = signed_in(teodor)

    read, written = browser.get(page), browser.post(page, typed() | SAVE)

    assert "most likely about 220 litres" in words(read)
    assert "Save this plan" not in words(read)
    assert written.status_code == 403
    assert "The plan is changed by those who sign for Sorrelhythe and by the coordinator." in words(written)


def test_a_booking_called_off_is_read_only(signed_in, sunniva, page, typed, call_off):
    call_off()
    browser = signed_in(sunniva)

    read, written = browser.get(page), browser.post(page, typed() | SAVE, follow=True)

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


def test_what_is_tried_out_is_worked_out_and_not_saved(signed_in, sunniva, page, typed):
    answer = tried(signed_in(sunniva), page, typed(boxes="25"))

    seen = answer.content.decode()
    assert "15 more parts in a hundred to share out." in words(answer)
    # Fifteen in a hundred of 280.
    assert "About 42 litres would be without a container." in words(answer)
    assert 'id="plan-count-kind-heated-0" hx-swap-oob' in seen
    assert "<form" not in seen
    assert "<input" not in seen
    assert not PressPlan.objects.exists()


def test_while_a_figure_cannot_be_read_the_preview_says_which_and_the_mix_is_still_followed(
    signed_in, sunniva, page, typed
):
    browser = signed_in(sunniva)

    for answer in (
        tried(browser, page, typed(its_yield="0.", boxes="25")),
        tried(browser, page, typed(its_yield="x", boxes="25")),
    ):
        assert "The juice appears here as soon as the figures can be read." in words(answer)
        assert "A yield lies between 0.20 and 0.85" in words(answer)
        assert "15 more parts in a hundred to share out." in words(answer)


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

    answer = signed_in(sunniva).post(page, typed(its_yield='"><script>alert(2)</script>') | SAVE)

    assert "<script>alert" not in answer.content.decode()


@pytest.mark.parametrize("planned", [False, True])
def test_the_page_asks_the_database_as_often_for_twelve_kinds_as_for_one(
    signed_in, sunniva, page, add_kind, save, planned, django_assert_num_queries, django_assert_max_num_queries
):
    first = add_kind("first", "1", usual_parts=1)
    if planned:
        save({(Use.FRESH, first): 100})
    browser = signed_in(sunniva)
    with django_assert_max_num_queries(11) as few:
        browser.get(page)

    kinds = [add_kind(f"kind {number}", "2", usual_parts=1) for number in range(11)]
    if planned:
        shares = {(Use.FRESH, kind): 9 for kind in kinds} | {(Use.FRESH, first): 1}
        save(shares, at_hand=dict.fromkeys(kinds, 3))

    with django_assert_num_queries(len(few)):
        browser.get(page)


def test_the_bookings_own_page_shows_what_to_bring_and_leads_to_the_plan(
    signed_in, sunniva, booking, page, bottle, box
):
    answer = signed_in(sunniva).get(reverse("bookings:show", args=[booking.pk]))

    assert "Between 160 litres and 280 litres, nine days in ten; most likely about 220 litres." in words(answer)
    assert f'href="{page}"' in answer.content.decode()
    assert "Plan the press day" in words(answer)


def test_the_scheme_page_leads_to_the_containers(signed_in, perpetua):
    assert f'href="{reverse("pressdays:kinds")}"' in signed_in(perpetua).get("/scheme/").content.decode()
