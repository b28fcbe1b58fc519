"""What happens around every page, whichever it is."""

import pytest
from django.urls import reverse

from kitshare.people.models import Village
from tests.web.page import Page

pytestmark = pytest.mark.django_db


@pytest.mark.parametrize("address", ["/", "/kits/", "/people/villages/new/", "/people/sign-in/", "/nowhere/"])
def test_a_method_that_no_browser_sends_is_refused_everywhere(signed_in, perpetua, address, subtests):
    browser = signed_in(perpetua)

    for method in ("put", "patch", "delete", "options", "trace"):
        with subtests.test(method=method):
            answer = getattr(browser, method)(address)
            assert answer.status_code == 405
            assert answer["Allow"] == "GET, HEAD, POST"


def test_more_than_any_sheet_needs_is_refused_unread_with_a_page_that_says_so(signed_in, perpetua, settings):
    settings.REQUEST_MAX_BYTES = 1_000
    browser = signed_in(perpetua)
    address = reverse("people:village_new")

    answers = [browser.post(address, {"name": "Coldmallow", "note": "x" * size}) for size in (2_000, 100)]

    assert [answer.status_code for answer in answers] == [413, 302]
    assert "too much to send at once" in answers[0].content.decode()
    assert Page(answers[0].content.decode()).wrong == []
    assert Village.objects.count() == 1
