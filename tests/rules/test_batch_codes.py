"""A wrong sign, or two that changed places, never makes another batch's code."""

from itertools import combinations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.batch_codes import LENGTH, MOST, SIGNS, CodeProblem, CodeRefused, code_of, read_code, shown

NUMBERS = st.integers(min_value=0, max_value=MOST - 1)


def problem_of(typed: str) -> CodeProblem:
    with pytest.raises(CodeRefused) as refused:
        read_code(typed)
    return refused.value.problem


@settings(max_examples=40)
@given(NUMBERS, st.sampled_from(["{0}", " {1} ", "{2}", "{1}."]))
def test_a_code_is_read_back_in_whatever_case_and_with_gaps(number, writing):
    code = code_of(number)

    assert len(code) == LENGTH
    assert read_code(writing.format(code, shown(code), shown(code).lower().replace("-", " "))) == code


@settings(max_examples=20)
@given(NUMBERS)
def test_every_single_wrong_sign_is_seen(number):
    code = code_of(number)
    wrong = [code[:at] + sign + code[at + 1 :] for at in range(LENGTH) for sign in SIGNS if sign != code[at]]

    assert {problem_of(one) for one in wrong} == {CodeProblem.CHECK}


@settings(max_examples=20)
@given(NUMBERS)
def test_every_two_signs_that_changed_places_are_seen(number):
    code = code_of(number)
    for first, second in combinations(range(LENGTH), 2):
        if code[first] != code[second]:
            signs = list(code)
            signs[first], signs[second] = signs[second], signs[first]
            assert problem_of("".join(signs)) is CodeProblem.CHECK


def test_numbers_have_codes_of_their_own_until_they_begin_again():
    assert len({code_of(number) for number in range(0, MOST, 2_011)}) == len(range(0, MOST, 2_011))
    assert code_of(MOST + 7) == code_of(7)
    with pytest.raises(ValueError, match="below 0"):
        code_of(-1)


@pytest.mark.parametrize(
    ("typed", "problem"),
    [
        ("", CodeProblem.EMPTY),
        (" - ", CodeProblem.EMPTY),
        ("KD7", CodeProblem.LENGTH),
        ("KD7QXPK", CodeProblem.LENGTH),
        ("KO7-QXP", CodeProblem.SIGN),
        ("٣٣٣٣٣٣", CodeProblem.SIGN),
        ("x" * 20_000, CodeProblem.LENGTH),
    ],
)
def test_what_is_no_code_is_refused_for_its_reason(typed, problem):
    assert problem_of(typed) is problem


def test_no_sign_can_be_taken_for_another():
    assert not set("0O1IL2Z5S68BU") & set(SIGNS)
    assert len(set(SIGNS)) == len(SIGNS) == 23


def test_a_code_on_a_bottle_stays_that_of_its_batch_and_is_shown_in_two_halves():
    """By hand: the last but one sign weighs 6, so that sign 1 there wants 23 - 6 = 17 as its check."""
    first, second, check = SIGNS[0], SIGNS[1], SIGNS[17]

    assert code_of(1) == first * 4 + second + check
    assert shown(code_of(1)) == f"{first * 3}-{first}{second}{check}"
    assert shown("K") == "K"


def test_a_refusal_shows_what_was_understood_and_no_more_than_a_line_of_it():
    strange = [sign for sign in "ABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789" if sign not in SIGNS]
    wrong = SIGNS[0] * 5 + SIGNS[1]

    for typed, signs in [
        (strange[0] + strange[1] + strange[0], strange[0] + strange[1]),
        (SIGNS[2] * 30, SIGNS[2] * 12),
        (wrong, wrong),
    ]:
        with pytest.raises(CodeRefused) as refused:
            read_code(typed)
        assert refused.value.signs == signs
