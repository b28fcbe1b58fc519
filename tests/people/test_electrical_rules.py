"""Whose limits electrical tests are judged by."""

import pytest

from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.people.electrical_rules import choose_electrical_rules
from kitshare.rules.electrics import RuleSet


def test_no_country_is_chosen_for_a_scheme_that_said_none(scheme):
    assert scheme.electrical_rules == ""


def test_a_choice_is_kept_and_told_once(scheme, perpetua, now):
    for _tap in range(2):
        changed = choose_electrical_rules(scheme=scheme, rules=RuleSet.GERMANY, by=perpetua, at=now)

    assert changed.electrical_rules == "de"
    [line] = Entry.objects.about(scheme)
    assert line.text.startswith("Electrical tests are judged by the limits of: Germany (before: none of these")
    assert choose_electrical_rules(scheme=scheme, rules=None, by=perpetua, at=now).electrical_rules == ""


def test_a_form_that_is_out_of_date_is_told_so(scheme, perpetua, now):
    seen = newest_line(scheme)
    choose_electrical_rules(scheme=scheme, rules=RuleSet.GERMANY, by=perpetua, at=now, seen=seen)

    with pytest.raises(ChangedMeanwhile):
        choose_electrical_rules(scheme=scheme, rules=RuleSet.UNITED_KINGDOM, by=perpetua, at=now, seen=seen)
