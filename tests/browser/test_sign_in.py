"""The door, as a person meets it."""


def test_a_borrower_signs_in_on_a_phone(at_a_phone, sunniva):
    person = at_a_phone(sunniva)

    person.sees("What needs you")
    person.page.get_by_text("Menu").click()
    person.sees("Sign out")


def test_the_error_summary_takes_the_focus_and_leads_to_nothing_lost(chromium, live_server, sunniva):
    page = chromium.new_context().new_page()
    page.goto(f"{live_server.url}/people/sign-in/")
    page.get_by_label("E-mail address").fill(sunniva.email)
    page.get_by_label("Password").fill("wrong")
    page.get_by_role("button", name="Sign in").click()

    page.get_by_role("alert").wait_for()

    assert page.evaluate("document.activeElement.className") == "error-summary"
    assert page.get_by_label("E-mail address").input_value() == sunniva.email
    page.context.close()
