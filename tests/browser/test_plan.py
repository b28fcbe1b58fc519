"""Planning a press day: the result follows what is typed, and nothing typed is lost."""

import re
from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.pressdays import kinds as containers
from kitshare.pressdays.models import ContainerKind, PressPlan
from kitshare.rules.periods import Period


@pytest.fixture
def booking(sorrelhythe, sunniva, season, mill, perpetua, now, today):
    containers.add_starter_kinds(by=perpetua, at=now)
    containers.add_container_kind(
        name="2 L water bottle", litres=Decimal("2.05"), material="pet", usual_use="fresh", by=perpetua, at=now
    )
    return bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill],
        period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
        fruit_amount=Decimal("400"),
        fruit_unit="kg",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )


@pytest.fixture
def page_of_plan(booking):
    return f"/press-days/{booking.pk}/plan/"


def test_a_village_plans_its_day_from_crates_to_what_is_still_to_buy(at_a_phone, sunniva, booking, page_of_plan):
    person = at_a_phone(sunniva)
    person.go(page_of_plan)
    page = person.page
    person.sees("most likely about 220 litres")
    page.get_by_text("How this was worked out").click()

    # Fruit in crates of 16 kg, and the yield as the village knows it.
    page.get_by_label("Measured in").select_option(label="crates")
    page.get_by_label("Fruit you expect to pick").fill("20")
    person.sees("most likely about 176 litres")
    its_yield = page.get_by_label("Litres from a kilogram, if you know better")
    its_yield.fill("0,6")
    person.sees("most likely about 192 litres")
    assert page.get_by_text("= 320 × 0.6").first.is_visible()

    # The juice by use: the first try is into a bottle that the heat would soften, and the page says so beside it.
    page.get_by_label("Heated, parts in a hundred").first.fill("80")
    page.get_by_label("Fresh, parts in a hundred").first.press("Control+a")
    page.get_by_label("Fresh, parts in a hundred").first.press_sequentially("15")
    page.get_by_label("Heated, into").first.select_option(label="2 L water bottle")
    person.sees("it bears 49 °C and the juice will be 75 °C")
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    person.press("Save this plan")
    person.sees("There is a problem")
    assert (
        page.locator("#plan-kind-heated-0_error").inner_text().endswith("it bears 49 °C and the juice will be 75 °C.")
    )
    assert (page.get_by_label("Fruit you expect to pick").input_value(), its_yield.input_value()) == ("20", "0,6")
    assert not PressPlan.objects.exists()

    # Into glass instead, all of it shared out, and what the village has goes in first.
    page.get_by_label("Heated, into").first.select_option(label="0.75 L glass bottle, re-used")
    page.get_by_label("Heated, parts in a hundred").nth(1).fill("0")
    page.get_by_label("Heated, parts in a hundred").nth(2).fill("0")
    page.get_by_label("Fresh, parts in a hundred").first.fill("20")
    person.sees("All of the juice is shared out.")
    page.get_by_label("0.75 L glass bottle, re-used", exact=True).fill("100")
    person.sees("100 of yours")
    person.press("Save this plan")
    person.sees("The plan is saved.")

    plan = PressPlan.objects.get()
    booking.refresh_from_db()
    assert (plan.yield_expected, booking.fruit_unit, booking.fruit_kg) == (Decimal("0.6"), "crate", 320)
    assert [(share.use, share.percent) for share in plan.shares.order_by("pk")] == [("heated", 80), ("fresh", 20)]
    assert plan.at_hand.get().kind == ContainerKind.objects.get(name="0.75 L glass bottle, re-used")
    # 0.75 L/kg at the most: 240 litres, 80 in a hundred of them in 0.78 x 0.96 each: 257, and one in twenty more.
    person.sees("100 of yours, 170 to buy · 257 filled, 13 in case of breakage")


def test_without_script_the_same_form_shows_and_saves(chromium, live_server, sunniva, page_of_plan):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/people/sign-in/?next={page_of_plan}")
    page.get_by_label("E-mail address").fill(sunniva.email)
    page.get_by_label("Password").fill("cloth and rack")
    page.get_by_role("button", name="Sign in").click()

    its_yield = page.get_by_label("Litres from a kilogram, if you know better")
    its_yield.fill("0.5")
    its_yield.press("Enter")
    page.get_by_text("most likely about").wait_for()
    shown = page.get_by_text("most likely about").inner_text()
    page.get_by_role("button", name=re.compile("another container.*fresh")).click()
    page.get_by_label("Fresh, parts in a hundred").nth(1).wait_for()
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_text("The plan is saved.").wait_for()

    assert "about 200" in shown
    assert PressPlan.objects.get().yield_expected == Decimal("0.5")
    context.close()
