"""Every code of the rules has words, and none of them promises too much."""

from decimal import Decimal

import pytest

from kitshare.pressdays import words
from kitshare.rules.containers import Refusal, RefusalCode
from kitshare.rules.heat_verdict import Reason, ReasonCode, Remedy
from kitshare.rules.outlook import Caution
from kitshare.rules.pressday import Station
from kitshare.rules.readings import LogProblem, LogRefused

EVERY = [
    *(words.reason(Reason(code=code, seen=12.34, wanted=20.0)) for code in ReasonCode),
    *(words.remedy(remedy) for remedy in Remedy),
    *(words.log_refusal(LogRefused(problem, value="7,5", line=3)) for problem in LogProblem),
    *(words.container_refusal(Refusal(code=c, has=Decimal("0.04"), wanted=Decimal("0.05"))) for c in RefusalCode),
    *(words.caution(caution, "52") for caution in Caution),
    *(words.station(station) for station in Station),
]


@pytest.mark.parametrize("sentence", EVERY)
def test_every_code_has_words(sentence: str) -> None:
    assert sentence
    assert "%(" not in sentence
    assert "safe" not in sentence.lower()


def test_numbers_are_written_without_a_tail_of_zeros() -> None:
    short = words.reason(Reason(code=ReasonCode.HOLD_TOO_SHORT, seen=19.0, wanted=20.0))
    sour = words.reason(Reason(code=ReasonCode.PH_CAUTION, seen=3.55, wanted=3.5))

    assert short == "The longest hold without a break is 19 minutes, and 20 are recommended."
    assert sour.startswith("The pH is 3.55: from 3.5 up")


def test_a_refusal_names_its_line_only_where_it_has_one() -> None:
    assert words.log_refusal(LogRefused(LogProblem.BAD_TIME, value="later", line=7)).startswith("Line 7: “later”")
    assert words.log_refusal(LogRefused(LogProblem.EMPTY)) == "There is nothing in this log."


def test_room_is_told_in_hundredths() -> None:
    refusal = Refusal(code=RefusalCode.HEADSPACE_TOO_SMALL, has=Decimal("0.02"), wanted=Decimal("0.0225"))

    assert words.container_refusal(refusal) == "it leaves 2 % of room and the juice needs 2.2 %"
