"""The walk: it goes through on fresh data, and it fails where a person could not go on."""

from datetime import timedelta

import pytest
from django.core.management import CommandError, call_command
from django.utils import timezone

from kitshare.demonstration.browsing import Browser, StepFailed
from kitshare.demonstration.story import tell

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def told(db):
    tell(now=timezone.now())


@pytest.mark.one_engine
def test_the_walk_goes_through_on_fresh_data_and_stops_where_the_kit_is_not_there(told, live_server, capsys):
    call_command("walk", address=live_server.url)

    said = capsys.readouterr().out
    assert "12 steps went through." in said
    assert "litres" in said

    with pytest.raises(CommandError, match="Step 2 did not go"):
        call_command("walk", address=live_server.url)


def test_a_page_that_does_not_say_what_it_should_fails_with_what_it_says(scheme, live_server):
    page = Browser(live_server.url).open("/people/sign-in/")

    with pytest.raises(StepFailed, match="does not say 'reservoir'"):
        page.says("reservoir")
    with pytest.raises(StepFailed, match="offers no form"):
        page.form(with_words="Launch")


def test_an_address_that_is_not_there_fails(scheme, live_server):
    with pytest.raises(StepFailed, match="answered 404"):
        Browser(live_server.url).open(f"/people/sign-in/{timedelta(1).days}/")
