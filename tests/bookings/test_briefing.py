"""The briefing: confirmed point by point, asked anew with other words, and what waits for it."""

from datetime import date

import pytest
from django.db import IntegrityError, transaction

from kitshare.bookings import briefing
from kitshare.bookings.briefing_models import BriefingRead, BriefingSettings
from kitshare.bookings.models import Season
from kitshare.checks import actions as checks
from kitshare.checks.gates import BriefingFirst, check_pickup_can_start
from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from tests.checks.sheets import signed, sound


@pytest.fixture
def confirm(season, sunniva, now):
    """Sunniva confirms every point, unless told otherwise."""

    def confirm_it(**changes):
        words = briefing.words_in_force()
        facts = {
            "member": sunniva,
            "season": season,
            "points": [point.key for point in words.points],
            "version": words.version,
            "by": sunniva,
            "at": now,
        }
        return briefing.confirm_briefing(**(facts | changes))

    return confirm_it


@pytest.fixture
def holding(perpetua, now):
    """Pickups wait for the briefing here."""
    return briefing.change_briefing(own_words="", holds_pickup=True, by=perpetua, at=now)


def test_each_point_is_confirmed_and_written_down_once(confirm, sunniva, agreed_booking):
    assert briefing.is_open(agreed_booking)

    first = confirm()

    assert confirm() == first
    assert not briefing.is_open(agreed_booking)
    assert set(first.points.split(",")) == {point.key for point in briefing.words_in_force().points}
    lines = [entry.text for entry in Entry.objects.about(sunniva).filter(deed="briefing_confirmed")]
    assert lines == ["Sunniva Okparadine confirmed the briefing for Autumn 2027, point by point (version 1.1)."]


def test_a_point_left_out_is_refused(confirm):
    points = [point.key for point in briefing.words_in_force().points]

    with pytest.raises(briefing.PointsOpen) as refusal:
        confirm(points=points[1:])

    assert refusal.value.keys == {points[0]}
    assert not BriefingRead.objects.exists()


def test_other_own_words_ask_everybody_anew_and_an_old_page_confirms_nothing(confirm, agreed_booking, perpetua, now):
    confirm()
    briefing.change_briefing(own_words="The tap is behind the scales.", holds_pickup=False, by=perpetua, at=now)

    assert briefing.is_open(agreed_booking)
    with pytest.raises(briefing.WordsChanged):
        confirm(version="1.1")
    with pytest.raises(briefing.PointsOpen):
        confirm(points=[point.key for point in briefing.POINTS])
    confirm()
    assert not briefing.is_open(agreed_booking)


def test_the_next_season_asks_again(confirm, agreed_booking):
    earlier = Season.objects.create(name="Autumn 2026", opens_on=date(2026, 8, 15), closes_on=date(2026, 11, 30))

    confirm(season=earlier)

    assert briefing.is_open(agreed_booking)


def test_a_coordinator_writes_down_a_briefing_on_paper_and_nobody_else_does(confirm, perpetua, leilani, sunniva):
    with pytest.raises(briefing.NotForThem):
        confirm(by=leilani)

    assert confirm(by=perpetua).on_paper
    assert "with Sunniva Okparadine" in Entry.objects.about(sunniva)[0].text


def test_a_pickup_waits_only_where_the_scheme_says_so(confirm, agreed_booking, sunniva, today):
    check_pickup_can_start(booking=agreed_booking, by=sunniva, today=today)


def test_a_pickup_that_waits_is_refused_in_words_until_the_briefing_is_confirmed(
    holding, confirm, agreed_booking, sunniva, today, now, drive_pin, guard, lead, cloths, sanitiser
):
    seen = sound(drive_pin, guard, lead, cloths, sanitiser)
    deed = {"booking": agreed_booking, "seen": seen, "signature": signed(), "by": sunniva, "at": now, "today": today}
    with pytest.raises(BriefingFirst, match="Sunniva Okparadine has not confirmed the briefing"):
        check_pickup_can_start(booking=agreed_booking, by=sunniva, today=today)
    with pytest.raises(BriefingFirst):
        checks.complete_pickup_check(**deed)

    confirm()

    assert checks.complete_pickup_check(**deed).outcome == "handed_over"


def test_the_settings_say_what_changed_and_see_what_somebody_else_changed(holding, perpetua, now):
    seen = newest_line(holding)
    briefing.change_briefing(own_words="One.", holds_pickup=True, by=perpetua, at=now)

    with pytest.raises(ChangedMeanwhile):
        briefing.change_briefing(own_words="Two.", holds_pickup=True, by=perpetua, at=now, seen=seen)

    texts = [entry.text for entry in Entry.objects.about(holding)]
    assert texts == [
        "Changed the scheme's own words in the briefing: everybody is asked anew.",
        "A pickup waits for the briefing now.",
    ]
    assert str(BriefingSettings.objects.get()) == "1.2"


@pytest.mark.parametrize("promise", ["briefing_confirmed_once_a_season", "one_briefing_a_site"])
def test_the_database_keeps_one_of_each(confirm, holding, promise):
    read = confirm()
    twice = {
        "briefing_confirmed_once_a_season": BriefingRead(
            member=read.member, season=read.season, text_version=1, edition=1, by=read.by, at=read.at
        ),
        "one_briefing_a_site": BriefingSettings(pk=2),
    }

    with pytest.raises(IntegrityError) as refused, transaction.atomic():
        twice[promise].save(force_insert=True)

    assert promise in str(refused.value) or "UNIQUE" in str(refused.value)
