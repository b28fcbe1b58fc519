"""Every quantity, formula and source has its words, so that none is ever shown as a code."""

from decimal import Decimal

import pytest

from kitshare.rules.sizing import size_day
from kitshare.rules.sizing_terms import ContainerKind, ContainerShare, Formula, Quantity, SizingInput, Source
from kitshare.web.pressdays import words

BOTTLE = ContainerKind(key="1", litres=Decimal("0.75"), reused_glass=True)
SIZING = size_day(SizingInput(fruit_kg=Decimal("1234.5"), mix=(ContainerShare(kind=BOTTLE, share=Decimal(1)),)))


def test_every_term_has_its_words():
    assert set(words.QUANTITY_WORDS) == set(Quantity)
    assert set(words.FORMULA_WORDS) == set(Formula)
    assert set(words.SOURCE_WORDS) == set(Source)


def test_every_quantity_has_a_unit_or_needs_none():
    assert set(words.UNIT_WORDS) | words.WITHOUT_UNIT == set(Quantity)
    assert not set(words.UNIT_WORDS) & words.WITHOUT_UNIT


def test_every_formula_names_each_of_its_inputs():
    for line in SIZING.lines:
        sentence = words.formula_words(line)
        for value in line.inputs:
            assert words.value_words(value) in sentence
    assert {line.formula for line in SIZING.lines} == set(Formula)


def test_what_has_no_source_says_so_and_what_was_not_seen_says_so():
    assert "no source" in str(words.SOURCE_WORDS[Source.COMMON_PRACTICE])
    assert "quoted" in str(words.SOURCE_WORDS[Source.LIFTING_FILTER])
    assert "computed" in str(words.SOURCE_WORDS[Source.EXPANSION])


@pytest.mark.parametrize(
    ("amount", "text"),
    [("400", "400"), ("1234.50", "1,234.5"), ("0.550", "0.55"), ("330.671875", "330.6719"), ("100", "100")],
)
def test_a_figure_is_written_to_four_decimals_without_empty_ones(amount, text):
    assert words.figure(Decimal(amount)) == text
