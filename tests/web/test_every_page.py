"""What no walk through the demonstration comes to: one heading, a title, labels, nothing inline, sound ids there too."""

import pytest

from tests.web.page import Page

pytestmark = pytest.mark.django_db


def test_the_first_page_of_all_is_well_made(client, db):
    assert Page(client.get("/", follow=True).content.decode()).wrong == []


@pytest.mark.parametrize("address", ["/nowhere/", "/post/", "/bookings/999/"])
def test_a_page_that_refuses_is_well_made_too(client, sunniva, address):
    client.force_login(sunniva)

    answer = client.get(address)

    assert answer.status_code in {403, 404}
    assert Page(answer.content.decode()).wrong == []


@pytest.mark.parametrize(
    ("body", "wrong"),
    [
        ("", "0 first headings"),
        ('<h1>A</h1><input name="x">', "no label for x"),
        ('<h1>A</h1><p style="color:red">', "<p style> in the page itself"),
        ('<h1>A</h1><button onclick="x()">', "<button onclick> in the page itself"),
        ("<h1>A</h1><script>1</script>", "<script> in the page itself"),
        ('<h1 id="a">A</h1><p id="a">', "2 times the id a"),
        ('<h1>A</h1><label for="b">B</label>', "something points at b, which is not there"),
    ],
)
def test_the_test_itself_sees_what_is_wrong(body, wrong):
    whole = f'<html lang="en"><head><title>A · B</title></head><body>{body}</body></html>'

    assert Page(whole).wrong == [wrong]
