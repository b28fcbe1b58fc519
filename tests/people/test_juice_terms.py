"""How high the scheme lies, and how long its heated juice is said to keep."""

import pytest
from django.db import IntegrityError, transaction

from kitshare.logbook.actions import ChangedMeanwhile, newest_line
from kitshare.logbook.models import Entry
from kitshare.people.juice_terms import change_juice_terms
from kitshare.people.models import Scheme


def test_a_change_is_kept_and_told(scheme, perpetua, now):
    changed = change_juice_terms(scheme=scheme, altitude_m=300, best_before_months=12, by=perpetua, at=now)

    assert (changed.altitude_m, changed.best_before_months) == (300, 12)
    assert Entry.objects.about(scheme)[0].text == (
        "Changed the scheme: metres above the sea: 0 → 300, months that heated juice keeps: 18 → 12."
    )
    assert change_juice_terms(scheme=scheme, altitude_m=300, best_before_months=12, by=perpetua, at=now) == changed
    assert Entry.objects.about(scheme).count() == 1


def test_a_form_that_is_out_of_date_is_told_so(scheme, perpetua, now):
    seen = newest_line(scheme)
    change_juice_terms(scheme=scheme, altitude_m=300, best_before_months=12, by=perpetua, at=now, seen=seen)

    with pytest.raises(ChangedMeanwhile):
        change_juice_terms(scheme=scheme, altitude_m=0, best_before_months=24, by=perpetua, at=now, seen=seen)


@pytest.mark.parametrize(
    ("promise", "changes"),
    [
        ("scheme_lies_where_people_live", {"altitude_m": 9000}),
        ("juice_keeps_a_month_to_three_years", {"best_before_months": 0}),
    ],
)
def test_the_database_keeps_them_sensible(scheme, promise, changes):
    with pytest.raises(IntegrityError, match=promise), transaction.atomic():
        Scheme.objects.update(**changes)
