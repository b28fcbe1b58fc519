"""The calendar's address on each page where it stands: to subscribe, to take one copy, to renew, to take away."""

import pytest
from django.urls import reverse

from kitshare.logbook.models import Entry

pytestmark = pytest.mark.django_db

# Whose calendar, the page it stands on, where its buttons lead, and who may press them.
PLACES = [
    ("scheme", "setup:scheme", "setup:scheme_feed", "perpetua"),
    ("sorrelhythe", "people:village", "people:village_feed", "perpetua"),
    ("heron", "kits:show", "kits:kit_feed", "teodor"),
    ("sunniva", "people:me", "people:own_feed", "sunniva"),
]
ALONE = {"scheme", "sunniva"}  # pages of which there is one, so that they need no key


@pytest.fixture(params=PLACES, ids=[place[0] for place in PLACES])
def place(request, signed_in, season):
    name, page, change, member = request.param
    owner = request.getfixturevalue(name)
    keys = [] if name in ALONE else [owner.pk]

    class Place:
        browser = signed_in(request.getfixturevalue(member))
        of = owner

        def look(self) -> str:
            return self.browser.get(reverse(page, args=keys)).content.decode()

        def press(self, **deed) -> str:
            return self.browser.post(reverse(change, args=keys), deed, follow=True).content.decode()

        def token(self) -> str | None:
            owner.refresh_from_db()
            return owner.feed_token

    return Place()


def test_the_page_offers_to_subscribe_and_to_take_one_copy(place):
    page = place.look()

    assert f"webcal://testserver/season/{where(place)}" in page
    assert f'href="/season/{where(place)}" download' in page


def where(place) -> str:
    kind = {"Scheme": "feed", "Village": "village-feed", "Kit": "kit-feed", "Member": "own-feed"}
    return f"{kind[type(place.of).__name__]}/{place.of.feed_token}.ics"


def test_an_address_is_renewed_taken_away_and_given_again(place):
    first = place.token()

    renewed = place.press()
    second = place.token()
    taken = place.press(deed="take-away")
    none = place.token()
    taken_again = place.press(deed="take-away")
    given = place.press()

    assert first not in renewed
    assert second in renewed
    assert none is None
    assert "The address was taken away" in taken
    assert "Subscribe" not in taken
    assert "The address was taken away" in taken_again
    assert place.token() in given
    deeds = list(Entry.objects.about(place.of).order_by("pk").values_list("deed", flat=True))
    assert deeds == ["feed_renewed", "feed_revoked", "feed_renewed"]


def test_the_logbook_never_holds_the_address(place):
    place.press()

    assert place.token() not in " ".join(Entry.objects.values_list("text", flat=True))


def test_a_borrower_sees_the_village_s_address_but_changes_only_their_own(signed_in, sunniva, sorrelhythe, heron):
    browser = signed_in(sunniva)

    village = browser.get(reverse("people:village", args=[sorrelhythe.pk])).content.decode()
    kit = browser.get(reverse("kits:show", args=[heron.pk])).content.decode()
    refused = [
        browser.post(reverse(name, args=keys)).status_code
        for name, keys in [
            ("people:village_feed", [sorrelhythe.pk]),
            ("kits:kit_feed", [heron.pk]),
            ("setup:scheme_feed", []),
        ]
    ]

    assert sorrelhythe.feed_token in village
    assert "Renew the address" not in village
    assert heron.feed_token not in kit
    assert refused == [403, 403, 403]


@pytest.mark.parametrize("name", ["people:village_feed", "kits:kit_feed"])
def test_a_calendar_of_what_is_not_there_is_not_found(signed_in, perpetua, name):
    assert signed_in(perpetua).post(reverse(name, args=[999])).status_code == 404
