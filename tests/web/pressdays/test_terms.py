"""What press days go by: the coordinator's page, what it refuses, and where it is felt."""

from decimal import Decimal

import pytest
from django.urls import reverse

from kitshare.logbook.models import Entry
from kitshare.people.models import Scheme
from tests.web.pressdays.test_plan import words

pytestmark = pytest.mark.django_db

PAGE = "/press-days/settings/"
GOOD = {
    "small_tree_kg": "45",
    "large_tree_kg": "300",
    "bushel_kg": "21,8",
    "fruit_words": "apples, mixed\npears",
    "hold": "0",
    "heat_target_c": "75",
    "heat_hold_minutes": "20",
    "heat_source": "",
    "sanitiser": "chlorine",
    "sanitiser_percent": "5.25",
    "kwh_price": "0.32",
    "currency": "crowns",
    "breakage_percent": "7,5",
    "pomace_to": "Agnes Pellowmere takes it for her pigs.",
}


@pytest.fixture
def coordinator(signed_in, perpetua):
    return signed_in(perpetua)


def test_the_settings_are_kept_and_the_logbook_says_what_changed(coordinator, scheme):
    answer = coordinator.post(PAGE, GOOD, follow=True)

    kept = Scheme.objects.get()
    assert "Saved. Plans are worked out with it from now on." in words(answer)
    assert (kept.bushel_kg, kept.sanitiser, kept.kwh_price) == (Decimal("21.8"), "chlorine", Decimal("0.32"))
    assert kept.breakage_percent == Decimal("7.5")
    assert "kilograms in a bushel: None → 21.8" in Entry.objects.about(kept).first().text


def test_every_stored_recommendation_is_offered_with_its_source(coordinator, scheme):
    seen = words(coordinator.get(PAGE))

    # Common practice; the handbook of 2007; the cider makers' site; Practical Action, table 1.
    assert "75 °C for 20 minutes: common practice, no source" in seen
    assert "72 °C for 20 minutes: German handbook on keeping juice, 2007" in seen
    assert "77 °C for 30 minutes: cider makers' site" in seen
    assert "80 °C for 15 minutes: Practical Action, Fruit juice processing, table 1, 0.5 L" in seen


@pytest.mark.parametrize(
    ("typed", "kept"),
    [
        ({"hold": "2"}, (77, 30, "cider makers' site")),
        (
            {"hold": "own", "heat_target_c": "78,5", "heat_hold_minutes": "25", "heat_source": "the county"},
            (Decimal("78.5"), 25, "the county"),
        ),
        ({"hold": "1", "heat_target_c": "nonsense"}, (72, 20, "German handbook on keeping juice, 2007")),
    ],
)
def test_temperature_minutes_and_source_are_kept_together(coordinator, scheme, typed, kept):
    coordinator.post(PAGE, GOOD | typed)

    found = Scheme.objects.get()
    assert (found.heat_target_c, found.heat_hold_minutes, found.heat_source) == kept


@pytest.mark.parametrize(
    ("typed", "field", "sentence"),
    [
        ({"hold": "own", "heat_source": " "}, "heat_source", "without a source are a guess"),
        ({"hold": "own", "heat_target_c": "", "heat_source": "x"}, "heat_target_c", "Write it out, or tick one"),
        ({"hold": "own", "heat_target_c": "95", "heat_source": "x"}, "heat_target_c", "less than or equal to 90"),
        ({"hold": "own", "heat_target_c": "20", "heat_source": "x"}, "heat_target_c", "greater than or equal to 50"),
        ({"hold": "own", "heat_hold_minutes": "0", "heat_source": "x"}, "heat_hold_minutes", "equal to 1"),
        ({"hold": "9"}, "hold", "Select a valid choice"),
        ({"hold": ""}, "hold", "This field is required."),
        ({"sanitiser_percent": ""}, "sanitiser_percent", "Say how strong it is, by its label"),
        ({"sanitiser": "quat", "sanitiser_percent": "101"}, "sanitiser_percent", "less than or equal to 100"),
        # California Health and Safety Code 114099.6 wants up to 200 parts in a million: a tenth of a per cent is over it.
        ({"sanitiser": "quat", "sanitiser_percent": "0.01"}, "sanitiser_percent", "greater than or equal to 0.1"),
        ({"sanitiser": "lye"}, "sanitiser", "Select a valid choice"),
        ({"bushel_kg": "0"}, "bushel_kg", "greater than or equal to 1"),
        ({"bushel_kg": "a lot"}, "bushel_kg", "Enter a number."),
        ({"small_tree_kg": ""}, "small_tree_kg", "This field is required."),
        ({"kwh_price": "-1"}, "kwh_price", "greater than or equal to 0"),
        ({"kwh_price": "NaN"}, "kwh_price", "Enter a number."),
    ],
)
def test_what_cannot_be_is_refused_by_its_field_and_stays(coordinator, scheme, typed, field, sentence):
    answer = coordinator.post(PAGE, GOOD | typed)

    page = answer.content.decode()
    assert answer.status_code == 200
    assert f'id="id_{field}_error"' in page
    assert sentence in words(answer)
    assert "Agnes Pellowmere takes it for her pigs." in page
    assert Scheme.objects.get().pomace_to == ""


def test_of_two_tabs_the_second_is_told_what_the_first_changed(coordinator, scheme):
    seen = coordinator.get(PAGE).context["form"].initial["seen"]
    coordinator.post(PAGE, GOOD | {"seen": str(seen)})

    told = coordinator.post(PAGE, GOOD | {"currency": "florins", "seen": str(seen)})

    assert "florins" in told.content.decode()
    assert Scheme.objects.get().currency == "crowns"


def test_only_the_coordinator_settles_it(signed_in, sunniva, scheme):
    assert signed_in(sunniva).get(PAGE).status_code == 403


def test_a_plan_says_what_the_settings_give(signed_in, coordinator, sunniva, booking, bottle):
    coordinator.post(PAGE, GOOD)

    seen = words(signed_in(sunniva).get(reverse("pressdays:plan", args=[booking.pk])))

    # C1 V1 = C2 V2: 100 ppm in 20 litres from 5.25 per cent are 38.1 ml. The mill draws 2.2 kW for an hour: 2.2 kWh at
    # 0.32.
    assert "38.1 ml of chlorine (5.25 %) in 20 litres of water is 100 parts in a million" in seen
    assert "costs about 0.70 crowns" in seen
    assert "Where it goes: Agnes Pellowmere takes it for her pigs." in seen
    assert "bushels" in seen


def test_the_schemes_page_leads_here_and_says_the_hold(coordinator, scheme):
    answer = coordinator.get("/scheme/")

    assert f'href="{PAGE}"' in answer.content.decode()
    assert "Juice is held at 75 °C for 20 minutes (common practice, no source)." in words(answer)
