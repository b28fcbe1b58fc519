"""The pages about people: what each shows, saves and refuses, with everything typed kept."""

import re

import pytest
from django.urls import reverse

from kitshare.people.models import Member, Village
from tests.web.page import Page

pytestmark = pytest.mark.django_db

SCRIPT = '<script>alert("x")</script>'


def text(answer) -> str:
    return answer.content.decode()


def member_facts(**changed):
    return {"name": "Idris Vellacombe", "email": "idris@example.org", "telephone": "01632 960 111"} | changed


# A member's own page


def test_a_member_corrects_their_own_details(signed_in, sunniva, sorrelhythe):
    browser = signed_in(sunniva)

    answer = browser.post(reverse("people:me"), member_facts(name="Sunniva O.", email=sunniva.email), follow=True)

    assert "Your details are saved." in text(answer)
    assert Member.objects.get(pk=sunniva.pk).name == "Sunniva O."
    assert "Sorrelhythe" in text(answer)


def test_nobody_gives_themselves_a_role(signed_in, sunniva):
    signed_in(sunniva).post(reverse("people:me"), member_facts(email=sunniva.email, coordinates="on", maintains="on"))

    sunniva.refresh_from_db()
    assert sunniva.name == "Idris Vellacombe"
    assert not sunniva.coordinates
    assert not sunniva.maintains


def test_a_refused_address_keeps_what_was_typed_and_the_frame_keeps_the_true_name(signed_in, sunniva, leilani):
    answer = signed_in(sunniva).post(
        reverse("people:me"), member_facts(name="Somebody Else", email="LEILANI@example.org")
    )

    page = text(answer)
    assert answer.status_code == 200
    assert page.count("Another member has the address LEILANI@example.org already.") == 2
    assert 'value="Somebody Else"' in page
    assert "<h1>Sunniva Okparadine</h1>" in page
    assert "<title>Error:" in page


def test_the_summary_of_errors_names_each_field(signed_in, perpetua):
    page = text(signed_in(perpetua).post(reverse("people:me"), {"name": ""}))

    assert re.findall(r'<a href="#id_(\w+)">(.*?)</a>', page) == [
        ("name", "Name: This field is required."),
        ("email", "E-mail address: This field is required."),
    ]


def test_ones_own_address_cannot_be_emptied(signed_in, sunniva):
    answer = signed_in(sunniva).post(reverse("people:me"), member_facts(email=""))

    assert "This field is required." in text(answer)


def test_a_new_password_of_ones_own_wants_the_present_one(signed_in, sunniva):
    browser = signed_in(sunniva)
    typed = {"current": "not it", "password": "apple butter day", "again": "apple butter day"}

    refused = browser.post(reverse("people:own_password"), typed)
    done = browser.post(reverse("people:own_password"), typed | {"current": "cloth and rack"}, follow=True)

    assert "This is not your password now." in text(refused)
    assert "type all three again" in text(refused)
    assert "Your password is changed." in text(done)
    assert done.wsgi_request.user == sunniva
    sunniva.refresh_from_db()
    assert sunniva.check_password("apple butter day")


@pytest.mark.parametrize(
    ("password", "again", "words"),
    [
        ("nine char", "nine char", "too short"),
        ("sunniva@example.org", "sunniva@example.org", "too similar"),
        ("apple butter day", "apple butter", "differ"),
    ],
)
def test_a_weak_or_mistyped_password_is_refused(signed_in, sunniva, password, again, words):
    answer = signed_in(sunniva).post(
        reverse("people:own_password"), {"current": "cloth and rack", "password": password, "again": again}
    )

    assert words in text(answer)
    assert f'value="{password}"' not in text(answer)


# Members


def test_a_coordinator_adds_a_member_and_hands_over_a_password(signed_in, perpetua, sorrelhythe, client):
    browser = signed_in(perpetua)

    page = browser.post(
        reverse("people:member_new"), member_facts(borrows="on", villages=[sorrelhythe.pk]), follow=True
    )
    idris = Member.objects.get(email="idris@example.org")
    shown = browser.post(reverse("people:member_password", args=[idris.pk]))

    assert "They cannot sign in yet: give them a password." in text(page)
    assert list(idris.villages.all()) == [sorrelhythe]
    password = re.search(r'class="handed-over">([a-z-]+)<', text(shown)).group(1)
    idris.refresh_from_db()
    assert idris.check_password(password)
    assert "no-store" in shown["Cache-Control"]
    assert password not in text(browser.get(reverse("people:member_password", args=[idris.pk])))
    client.logout()
    assert client.post(reverse("people:sign_in"), {"username": idris.email, "password": password}).status_code == 302


def test_looking_at_the_password_page_changes_nothing(signed_in, perpetua, sunniva):
    signed_in(perpetua).get(reverse("people:member_password", args=[sunniva.pk]))

    sunniva.refresh_from_db()
    assert sunniva.check_password("cloth and rack")


def test_a_member_without_an_address_is_shown_as_telephoned(signed_in, perpetua):
    browser = signed_in(perpetua)

    page = text(browser.post(reverse("people:member_new"), member_facts(email=""), follow=True))

    assert "they cannot sign in" in page
    assert "Give a new password" not in page
    assert "by telephone</span>" in text(browser.get(reverse("people:members")))


def test_adding_somebody_without_an_address_tapped_twice_adds_one(signed_in, perpetua):
    browser = signed_in(perpetua)
    address = reverse("people:member_new")
    form = Page(text(browser.get(address))).fields
    typed = member_facts(email="", form_key=form["form_key"])

    first, second = browser.post(address, typed), browser.post(address, typed)

    assert first["Location"] == second["Location"]
    assert Member.objects.filter(name="Idris Vellacombe").count() == 1


def test_a_member_out_of_all_reach_is_refused(signed_in, perpetua):
    answer = signed_in(perpetua).post(reverse("people:member_new"), member_facts(email="", telephone=""))

    assert "so that this member can be told things" in text(answer)
    assert 'value="Idris Vellacombe"' in text(answer)


def test_the_last_coordinator_is_told_why_they_must_stay(signed_in, perpetua):
    answer = signed_in(perpetua).post(
        reverse("people:member_change", args=[perpetua.pk]),
        member_facts(name="Perpetua Q.", email=perpetua.email, is_active="on"),
    )

    page = text(answer)
    assert "Perpetua Quillstone is the only coordinator who can sign in." in page
    assert "<h1>Change Perpetua Quillstone</h1>" in page
    assert 'value="Perpetua Q."' in page
    perpetua.refresh_from_db()
    assert perpetua.coordinates


def test_a_closed_account_is_signed_out(signed_in, perpetua, sunniva, client):
    signed_in(perpetua).post(
        reverse("people:member_change", args=[sunniva.pk]), member_facts(email=sunniva.email, borrows="on")
    )

    client.force_login(Member.objects.get(pk=sunniva.pk))
    answer = client.get(reverse("people:me"))
    assert answer.status_code == 302
    assert answer["Location"].startswith(reverse("people:sign_in"))


def test_saving_a_member_keeps_a_village_that_has_left(signed_in, perpetua, sunniva, sorrelhythe, today):
    Village.objects.update(left_on=today)
    page = text(signed_in(perpetua).get(reverse("people:member_change", args=[sunniva.pk])))

    assert re.search(rf'name="villages" value="{sorrelhythe.pk}"[^>]*checked', page)


# Villages


def test_a_coordinator_adds_and_changes_a_village(signed_in, perpetua, sunniva):
    browser = signed_in(perpetua)
    facts = {"name": "St Wenno's Cross", "note": "Park by the pound.\nThe lane is narrow.", "borrowers": [sunniva.pk]}

    page = text(browser.post(reverse("people:village_new"), facts, follow=True))
    village = Village.objects.get()
    again = text(
        browser.post(reverse("people:village_change", args=[village.pk]), facts | {"name": "Wenno"}, follow=True)
    )

    assert "St Wenno&#x27;s Cross may borrow now." in page
    assert "The lane is narrow." in page
    assert "<h1>Wenno</h1>" in again
    assert "Changed the village Wenno" in again


def test_a_village_needs_another_name(signed_in, perpetua, sorrelhythe):
    answer = signed_in(perpetua).post(reverse("people:village_new"), {"name": "sorrelhythe", "note": "Kept."})

    assert text(answer).count("There is a village called sorrelhythe already.") == 2
    assert "Kept." in text(answer)


def test_a_village_leaves_by_a_page_that_asks_first_and_comes_back(signed_in, perpetua, sorrelhythe):
    browser = signed_in(perpetua)

    asked = browser.get(reverse("people:village_leave", args=[sorrelhythe.pk]))
    left = browser.post(reverse("people:village_leave", args=[sorrelhythe.pk]), follow=True)
    back = browser.post(reverse("people:village_return", args=[sorrelhythe.pk]), follow=True)

    assert "Let the village leave" in text(asked)
    assert "This village left the scheme on" in text(left)
    assert "Sorrelhythe may borrow again." in text(back)


def test_a_village_with_a_booking_does_not_leave(signed_in, perpetua, sorrelhythe, booking):
    browser = signed_in(perpetua)

    asked = browser.get(reverse("people:village_leave", args=[sorrelhythe.pk]))
    refused = browser.post(reverse("people:village_leave", args=[sorrelhythe.pk]), follow=True)

    assert "Let the village leave" not in text(asked)
    assert "Sorrelhythe still has bookings: Fri 3 Sep 2027." in text(refused)
    assert Village.objects.get().left_on is None


def test_the_calendar_address_of_a_village_is_renewed(signed_in, perpetua, sorrelhythe):
    before = sorrelhythe.feed_token

    signed_in(perpetua).post(reverse("people:village_feed", args=[sorrelhythe.pk]))

    assert Village.objects.get().feed_token != before


# Every page


def test_a_script_in_any_field_is_shown_as_text(signed_in, perpetua):
    browser = signed_in(perpetua)
    village = browser.post(reverse("people:village_new"), {"name": SCRIPT, "note": SCRIPT}, follow=True)
    person = browser.post(
        reverse("people:member_new"), member_facts(name=SCRIPT, telephone=SCRIPT, borrows="on"), follow=True
    )
    pages = [village, person, browser.get(reverse("people:members")), browser.get(reverse("people:villages"))]
    pages.append(browser.post(reverse("people:village_new"), {"name": SCRIPT}))

    for page in pages:
        assert "<script>alert" not in text(page)
        assert "&lt;script&gt;" in text(page)


@pytest.mark.parametrize("key", [0, 999, 10**30])
def test_what_is_not_there_is_not_found(signed_in, perpetua, key, subtests):
    browser = signed_in(perpetua)

    for name in ["member", "member_change", "member_password", "village", "village_change", "village_leave"]:
        with subtests.test(name=name):
            assert browser.get(reverse(f"people:{name}", args=[key])).status_code == 404


@pytest.mark.parametrize(
    "query", ["?page=0", "?page=x", "?page=99", "?sort=nothing", "?sort=-name", "?before=x&sort=standing"]
)
@pytest.mark.parametrize("name", ["members", "villages"])
def test_a_strange_query_still_answers(signed_in, perpetua, sorrelhythe, name, query):
    assert signed_in(perpetua).get(reverse(f"people:{name}") + query).status_code == 200


@pytest.mark.parametrize("name", ["member_new", "village_new", "me", "own_password"])
def test_strange_input_is_refused_by_the_form(signed_in, perpetua, name):
    odd = {
        "name": "a" * 5000,
        "email": "not an address",
        "telephone": "\x00",
        "note": "b" * 9000,
        "villages": ["x", "9" * 40],
        "borrowers": ["-1", "9" * 40],
        "current": "\x00",
        "password": "c" * 5000,
    }

    answer = signed_in(perpetua).post(reverse(f"people:{name}"), odd)

    assert answer.status_code == 200
    assert "There is a problem" in text(answer)


def _fill(count):
    for number in range(Member.objects.count(), count):
        member = Member.objects.create(name=f"Borrower {number}", email=f"b{number}@example.org", borrows=True)
        Village.objects.create(name=f"Village {number}").borrowers.add(member)


@pytest.mark.parametrize("name", ["members", "villages"])
def test_a_list_asks_as_often_for_twelve_rows_as_for_few(
    signed_in, perpetua, name, django_assert_num_queries, django_assert_max_num_queries
):
    browser = signed_in(perpetua)
    _fill(2)
    with django_assert_max_num_queries(7) as few:
        browser.get(reverse(f"people:{name}"))
    _fill(12)
    with django_assert_num_queries(len(few)):
        browser.get(reverse(f"people:{name}"))


def test_the_list_of_villages_says_what_to_do_when_it_is_empty(signed_in, perpetua):
    assert "There is no village yet. Add the first one" in text(signed_in(perpetua).get(reverse("people:villages")))
