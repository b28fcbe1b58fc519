"""Codes to type: the published check character, and which slips it finds."""

import random
import string

import pytest
from hypothesis import given
from hypothesis import strategies as st

from kitshare.rules.codes import LENGTH, LETTERS, VALUES, CodeWrong, CodeWrongBy, check_character, draw, read, shown

CODES = st.randoms(use_true_random=False).map(lambda chance: draw(chance.choice))


@pytest.mark.parametrize(
    ("body", "check"),
    [
        # Guidelines for the Blood Transfusion Services in the UK, annex 2, "ISBT 128 check character calculation":
        # its worked example by ISO 7064 modulus 37,2.
        ("G123498654321", "H"),
        # By hand, by the standard's rule: the weighted sum with the check character is 1 modulo 37.
        ("0", "1"),
        ("1", "*"),
    ],
)
def test_the_check_character_is_that_of_the_standard(body, check):
    assert check_character(body) == check


@given(st.text(alphabet=VALUES[:-1], min_size=1, max_size=20))
def test_the_weighted_sum_with_the_check_character_is_one_modulo_37(body):
    """The standard's own definition of a valid string, summed here from the right with powers of two."""
    whole = body + check_character(body)

    assert sum(VALUES.index(sign) * 2**place for place, sign in enumerate(reversed(whole))) % 37 == 1


@given(CODES)
def test_every_single_slip_is_found(code):
    for place in range(LENGTH):
        for other in set(LETTERS) - {code[place]}:
            with pytest.raises(CodeWrong) as wrong:
                read(code[:place] + other + code[place + 1 :])
            assert wrong.value.by == CodeWrongBy.CHECK


@given(CODES)
def test_every_pair_of_neighbours_that_changed_places_is_found(code):
    for place in range(LENGTH - 1):
        swapped = code[:place] + code[place + 1] + code[place] + code[place + 2 :]
        if swapped != code:
            with pytest.raises(CodeWrong):
                read(swapped)


@given(CODES)
def test_a_code_is_read_however_it_is_typed(code):
    assert set(code) <= set(LETTERS)
    for typed in (
        code,
        code.lower(),
        shown(code),
        f"  {code[:2]}-{code[2:]} ",
        code.replace("8", "B").replace("5", "s"),
    ):
        assert read(typed) == code


@pytest.mark.parametrize(
    ("typed", "by", "characters"),
    [
        ("", CodeWrongBy.EMPTY, ""),
        (" - ", CodeWrongBy.EMPTY, ""),
        ("K7M4", CodeWrongBy.TOO_SHORT, ""),
        ("K7M4QXW", CodeWrongBy.TOO_LONG, ""),
        ("K7MOQO", CodeWrongBy.NEVER_USED, "O"),
        ("K7١4QX", CodeWrongBy.NEVER_USED, "١"),
        ("x" * 3_000, CodeWrongBy.TOO_LONG, ""),
    ],
)
def test_what_is_wrong_with_a_code_is_told_apart(typed, by, characters):
    with pytest.raises(CodeWrong) as wrong:
        read(typed)

    assert (wrong.value.by, wrong.value.characters) == (by, characters)


def test_no_two_characters_look_alike():
    assert set(LETTERS) & set("01OILBSZU") == set()
    assert set(LETTERS) <= set(string.digits + string.ascii_uppercase)


def test_codes_are_drawn_from_the_whole_alphabet():
    chance = random.Random(7)

    assert set("".join(draw(chance.choice) for _ in range(300))) == set(LETTERS)


def test_every_character_that_no_code_has_is_named_once():
    with pytest.raises(CodeWrong) as refused:
        read("AEAKKK")

    assert (refused.value.by, refused.value.characters) == (CodeWrongBy.NEVER_USED, "AE")
