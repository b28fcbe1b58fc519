"""What coordinators hear of checks is in the language of each, not of whoever signed."""

import pytest
from django.utils import translation

from kitshare.checks import arriving, relaying
from kitshare.outbox.models import Message
from kitshare.rules.checklists import Condition
from tests.checks.sheets import but, signed
from tests.checks.test_arriving import sent
from tests.languages import check_letters, two_languages

__all__ = ["sent", "two_languages"]

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True, params=["en-gb", "de"])
def whoever_signs(request, two_languages, perpetua, teodor):
    """One coordinator reads the second language and one does not, whatever the language of whoever signs."""
    teodor.coordinates = True
    teodor.save()
    two_languages(perpetua)
    with translation.override(request.param):
        yield


def test_two_checks_that_differ(sent, cloths, teodor):
    arriving.keep_and_judge(**sent())
    arriving.keep_and_judge(**sent(by=teodor, count={cloths: 11}))

    check_letters("sheet-differs")


def test_a_relay_that_was_stopped(hand_on, all_sound, drive_pin):
    hand_on(relaying.stop_relay, seen=but(all_sound, drive_pin, Condition.MISSING))

    check_letters("relay-stopped")


def test_a_clean_down_that_is_owed(hand_on):
    hand_on(signature=signed(taken_name="Leilani Crabbwater", is_clean=False))

    check_letters("clean-down-owed")
    assert Message.objects.filter(key__startswith="clean-down-owed").count() == 2
