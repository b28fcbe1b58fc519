"""Trying out a plan: the result follows what is typed, and nothing typed is lost."""

from datetime import date
from decimal import Decimal

import pytest

from kitshare.bookings import actions as bookings
from kitshare.pressdays import actions as pressdays
from kitshare.pressdays.models import PressPlan
from kitshare.rules.periods import Period


@pytest.fixture
def page_of_plan(sorrelhythe, sunniva, season, mill, perpetua, now, today):
    pressdays.add_starter_kinds(by=perpetua, at=now)
    booking = bookings.book_kit(
        village=sorrelhythe,
        borrower=sunniva,
        machines=[mill],
        period=Period(start=date(2027, 9, 11), end=date(2027, 9, 13)),
        fruit_amount=Decimal("25"),
        fruit_unit="crate",
        note="",
        by=sunniva,
        at=now,
        today=today,
    )
    return f"/press-days/{booking.pk}/plan/"


def test_the_result_follows_what_is_typed_without_losing_it_or_the_focus(at_a_phone, sunniva, page_of_plan):
    person = at_a_phone(sunniva)
    person.go(page_of_plan)
    page = person.page
    person.sees("most likely about 220 litres")
    page.get_by_text("How this was worked out").click()

    its_yield = page.get_by_label("Litres of juice from a kilogram of fruit")
    its_yield.fill("0,65")
    person.sees("most likely about 260 litres")
    person.sees("gives about 260 litres")
    bottles = page.get_by_label("0.75 L glass bottle, re-used")
    bottles.press("Control+a")
    bottles.press_sequentially("35")
    person.sees("15 more parts in a hundred to share out.")

    assert (its_yield.input_value(), bottles.input_value()) == ("0,65", "35")
    assert bottles.evaluate("field => field === document.activeElement")
    # 260 litres by the larger yield, 35 in a hundred of them, 0.72 in a bottle: 126.4, and one in twenty more.
    assert page.locator(f"output[for={bottles.get_attribute('id')}]").inner_text() == "bring 134"
    assert page.get_by_text("= 400 kg × 0.65 L/kg").first.is_visible()
    assert page.evaluate("document.documentElement.scrollWidth") == 390
    assert not PressPlan.objects.exists()

    page.get_by_label("3 L bag-in-box").fill("35")
    person.sees("All of the juice is shared out.")
    person.press("Save this plan")
    person.sees("The plan is saved.")
    assert PressPlan.objects.get().yield_expected == Decimal("0.65")


def test_without_script_the_same_form_shows_and_saves(chromium, live_server, sunniva, page_of_plan):
    context = chromium.new_context(java_script_enabled=False)
    page = context.new_page()
    page.goto(f"{live_server.url}/people/sign-in/?next={page_of_plan}")
    page.get_by_label("E-mail address").fill(sunniva.email)
    page.get_by_label("Password").fill("cloth and rack")
    page.get_by_role("button", name="Sign in").click()

    page.get_by_label("Litres of juice from a kilogram of fruit").fill("0.5")
    page.get_by_role("button", name="Show the result only").click()
    page.get_by_text("most likely about").wait_for()
    shown = page.get_by_text("most likely about").inner_text()
    page.get_by_role("button", name="Save this plan").click()
    page.get_by_text("The plan is saved.").wait_for()

    assert "about 200" in shown
    assert PressPlan.objects.get().yield_expected == Decimal("0.5")
    context.close()
