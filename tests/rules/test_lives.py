"""Lives of parts from check lines: each a story told by hand."""

import pytest

from kitshare.rules.checklists import Condition
from kitshare.rules.lives import Sighting, lives
from kitshare.rules.wear import Life

SOUND, WORN, DAMAGED, MISSING = Condition


def told(*story):
    """A pickup is written `p`, a return `r`, each with a condition; `spare` where one took its place."""
    return [Sighting(condition=seen[1], ends_outing=seen[0] == "r", spare_fitted="spare" in seen[2:]) for seen in story]


def outing(before=SOUND, after=SOUND):
    return [("p", before), ("r", after)]


@pytest.mark.parametrize(
    ("story", "ended", "age"),
    [
        ([], [], None),
        ([("p", SOUND)], [], 0),
        (outing() * 3, [], 3),
        (outing() * 2 + outing(after=WORN) + outing(before=WORN), [], 4),
        (outing() * 2 + outing(after=MISSING), [3], None),
        (outing() * 2 + outing(after=DAMAGED) + [("p", DAMAGED), ("r", DAMAGED)], [3], None),
        (outing() * 2 + outing(after=DAMAGED) + outing() * 2, [3], 2),
        (outing() * 2 + [("p", DAMAGED, "spare"), ("r", SOUND)], [2], 1),
        (outing() * 2 + [("p", SOUND, "spare"), ("r", DAMAGED)], [2, 1], None),
        ([("p", MISSING), ("p", SOUND), ("r", SOUND)], [], 1),
        ([("p", MISSING, "spare"), ("r", SOUND)], [], 1),
        ([("p", SOUND), ("p", DAMAGED)], [1], None),
        ([("r", SOUND)], [], 1),
    ],
)
def test_a_life_runs_from_the_first_whole_sighting_to_the_end(story, ended, age):
    found = lives(told(*story))

    assert ([life.outings for life in found.ended], found.age) == (ended, age)
    assert all(life.ended for life in found.ended)


def test_the_part_in_use_is_a_life_so_far_once_it_was_out():
    assert lives(told(*outing() * 2)).all == (Life(outings=2, ended=False),)
    assert lives(told(("p", SOUND))).all == ()
