"""What the scheme assumes of a day before anybody plans it."""

import pytest

from kitshare.pressdays.wanted import usual_mix

pytestmark = pytest.mark.django_db


def test_the_usual_mix_is_each_kinds_parts_out_of_all_parts(bottle, box):
    assert usual_mix([bottle, box]) == {bottle: 75, box: 25}


def test_where_no_kind_has_parts_everything_goes_into_the_first(add_kind):
    first, second = add_kind("first", "1"), add_kind("second", "1")

    assert usual_mix([first, second]) == {first: 100, second: 0}


def test_a_retired_kind_is_not_in_the_usual_mix(bottle, box, today):
    box.retired_on = today

    assert usual_mix([bottle, box]) == {bottle: 100}
    assert usual_mix([box]) == {}
