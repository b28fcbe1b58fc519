"""Logs as people and loggers write them, and every refusal with its line."""

import random
from itertools import pairwise

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from kitshare.rules.heat import HeatLog
from kitshare.rules.readings import (
    LogProblem,
    LogRefused,
    TemperatureUnit,
    TimeForm,
    UnitUnknown,
    read_log,
    thinned,
)

STORY = ((0.0, 20.0), (5.0, 60.5), (10.0, 75.25))

LOGS = {
    "minutes": "minute,temp_c\n0,20\n5,60.5\n10,75.25\n",
    "no heading": "0,20\n5,60.5\n10,75.25",
    "seconds": "elapsed s,temp C\n0,20\n300,60.5\n600,75.25\n",
    "hours": "hours,temp C\n0,20\n0.0833333333333,60.5\n0.16666666666667,75.25\n",
    "typed": "14:00 20\n14:05 60,5\n14:10 75,25",
    "typed with unit": "14:00 20 C\n14:05 60.5 C\n14:10 75.25 C",
    "typed with degree signs": "14:00 20°C\n14:05 60.5 °C\n14:10 75.25°C",
    "semicolons": "Uhrzeit;Kerntemperatur °C\r\n14:00:00;20,0\r\n14:05:00;60,5\r\n14:10:00;75,25\r\n",
    "tabs": "time\ttemp\n14:00\t20\n14:05\t60.5\n14:10\t75.25\n",
    "pipes": "14:00|20\n14:05|60.5\n14:10|75.25\n",
    "quoted": '"Time","Temp (°C)"\n"14:00","20.0"\n"14:05","60.5"\n"14:10","75.25"\n',
    "quoted decimal comma": 'time,temp\n14:00,"20,0"\n14:05,"60,5"\n14:10,"75,25"\n',
    "torn decimal comma": "time,temp C\n14:00,20,0\n14:05,60,5\n14:10,75,25\n",
    "iso": "2026-10-03T14:00:00,20\n2026-10-03T14:05:00,60.5\n2026-10-03T14:10:00,75.25",
    "iso with zone": "2026-10-03T14:00:00Z,20\n2026-10-03T15:05:00+01:00,60.5\n2026-10-03T14:10:00Z,75.25",
    "day first": "03.10.2026 14:00;20\n03.10.2026 14:05;60,5\n03.10.2026 14:10;75,25",
    "month first": "10/25/2026 14:00,20\n10/25/2026 14:05,60.5\n10/25/2026 14:10,75.25",
    "short day": "3/10/26 9:00,20\n3/10/26 9:05,60.5\n3/10/26 9:10,75.25",
    "date apart": "date;time;temp\n2026-10-03;14:00;20\n2026-10-03;14:05;60,5\n2026-10-03;14:10;75,25",
    "date apart, typed": "2026-10-03 14:00 20\n2026-10-03 14:05 60.5\n2026-10-03 14:10 75.25",
    "afternoon": "time,temp\n11:55 AM,20\n12:00 PM,60.5\n12:05 PM,75.25",
    "epoch": "1790000000,20\n1790000300,60.5\n1790000600,75.25",
    "epoch in thousandths": "1790000000000,20\n1790000300000,60.5\n1790000600000,75.25",
    "numbered rows": "No.,Time,Temp °C\n1,14:00,20\n2,14:05,60.5\n3,14:10,75.25",
    "preamble": "Logger 7\nSerial: 00123\n\nTime,Temp °C\n14:00,20\n14:05,60.5\n14:10,75.25\n",
    "blank lines": "\n\n14:00,20\n\n14:05,60.5\n\n\n14:10,75.25\n\n",
    "fahrenheit": "time,temp F\n14:00,68\n14:05,140.9\n14:10,167.45",
    "fahrenheit in cells": "14:00,68 F\n14:05,140.9 F\n14:10,167.45 F",
    "fahrenheit above": "Unit: Fahrenheit\ntime,reading\n14:00,68\n14:05,140.9\n14:10,167.45",
}


@pytest.mark.parametrize("text", LOGS.values(), ids=LOGS.keys())
@pytest.mark.parametrize("encoding", ["str", "utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_one_story_however_it_is_written(text: str, encoding: str) -> None:
    data = text if encoding == "str" else text.encode(encoding)

    found = read_log(data)

    assert found.log.minutes == pytest.approx([m for m, _ in STORY], abs=1e-6)
    assert found.log.celsius == pytest.approx([c for _, c in STORY], abs=1e-9)
    assert found.found.rows == 3
    assert found.found.repeated == 0


COMMAS = {"typed", "semicolons", "quoted decimal comma", "day first", "date apart"}


@pytest.mark.parametrize("name", LOGS)
def test_a_decimal_comma_is_told_where_there_is_one(name: str) -> None:
    assert read_log(LOGS[name]).found.decimal_comma is (name in COMMAS)


@pytest.mark.parametrize("unit", ["C", "c", " °C", "° C", " º C"])
def test_a_unit_may_stand_after_a_decimal_comma(unit: str) -> None:
    found = read_log(f"14:00;20,5{unit}\n14:05;60,5{unit}")

    assert found.log.celsius == (20.5, 60.5)
    assert found.found.decimal_comma


def test_what_was_found_is_told() -> None:
    found = read_log(LOGS["semicolons"]).found

    assert found.delimiter == ";"
    assert found.decimal_comma
    assert (found.unit, found.unit_marked) == (TemperatureUnit.CELSIUS, True)
    assert (found.time_form, found.time_assumed) == (TimeForm.CLOCK, False)
    assert found.column == "Kerntemperatur °C"


def test_a_second_temperature_column_is_told_and_passed_by() -> None:
    found = read_log("minute,bath C,juice C\n0,80,20\n1,81,21\n2,82,22\n")

    assert found.log.celsius == (20, 21, 22)
    assert found.found.column == "juice C"
    assert found.found.other_columns == ("bath C",)


def test_bare_minutes_and_degrees_are_taken_and_said_to_be_taken() -> None:
    found = read_log("0 20\n5 60\n10 75").found

    assert found.time_assumed
    assert not found.unit_marked
    assert found.column == ""


# Units of temperature


def test_unmarked_fahrenheit_is_asked() -> None:
    with pytest.raises(UnitUnknown) as refused:
        read_log("14:00,68\n14:05,140.9\n14:10,167.5")

    assert refused.value.problem is LogProblem.UNIT_UNKNOWN
    assert refused.value.highest == 167.5


def test_an_answer_settles_the_unit() -> None:
    text = "14:00,68\n14:05,86"

    assert read_log(text, unit=TemperatureUnit.FAHRENHEIT).log.celsius == pytest.approx((20, 30))
    assert read_log(text, unit=TemperatureUnit.CELSIUS).log.celsius == (68, 86)


@pytest.mark.parametrize(("highest", "asked"), [("95", False), ("95.1", True)])
def test_the_question_is_put_where_juice_would_boil_away(highest: str, asked: bool) -> None:
    text = f"14:00,50\n14:05,{highest}"

    if asked:
        with pytest.raises(UnitUnknown):
            read_log(text)
    else:
        assert read_log(text).found.unit is TemperatureUnit.CELSIUS


def test_a_log_marked_both_ways_is_asked() -> None:
    with pytest.raises(UnitUnknown):
        read_log("time,temp °F or °C\n14:00,150\n14:05,167")


# Times


def test_midnight_is_crossed() -> None:
    found = read_log("23:50,70\n23:55,75\n00:00,76\n00:05,77")

    assert found.log.minutes == pytest.approx((0, 5, 10, 15))
    assert found.found.midnights == 1


def test_hours_without_a_leading_nought_keep_their_seconds() -> None:
    assert read_log("9:59:30,20\n10:00:00,21\n10:00:45.6,22").log.minutes == pytest.approx((0, 0.5, 1.26))
    assert read_log("11:59:30 AM,20\n12:00:15 PM,21").log.minutes == pytest.approx((0, 0.75))


@pytest.mark.parametrize("text", ["13:00,20\n01:20,22", "12:55 PM,20\n1:10 AM,22"])
def test_half_a_day_back_is_noon_only_on_a_clock_of_twelve_hours(text: str) -> None:
    with pytest.raises(LogRefused) as refused:
        read_log(text)

    assert refused.value.problem is LogProblem.BACKWARDS


def test_noon_on_a_twelve_hour_clock_is_crossed() -> None:
    found = read_log("12:50,70\n12:55,75\n1:00,76\n1:05,77")

    assert found.log.minutes == pytest.approx((0, 5, 10, 15))
    assert found.found.midnights == 0


@pytest.mark.parametrize("day", ["", "2026-10-25 "])
def test_the_autumn_change_of_clocks_is_seen_through_once(day: str) -> None:
    found = read_log(f"{day}02:50,70\n{day}02:55,75\n{day}02:00,76\n{day}02:05,77")

    assert found.log.minutes == pytest.approx((0, 5, 10, 15))
    assert found.found.clock_changes == 1


def test_clocks_do_not_change_twice() -> None:
    text = "02:50,70\n02:55,75\n02:00,76\n02:05,77\n01:10,77"

    with pytest.raises(LogRefused) as refused:
        read_log(text)

    assert refused.value.problem is LogProblem.BACKWARDS
    assert refused.value.line == 5


def test_the_spring_change_leaves_a_gap_that_no_hold_crosses() -> None:
    found = read_log("01:50,75\n01:55,75\n03:00,75\n03:05,75")

    assert max(b - a for a, b in pairwise(found.log.minutes)) == 65


def test_stamps_that_repeat_keep_the_coldest() -> None:
    found = read_log("14:00,70\n14:00,69\n14:00,71\n14:01,75\n14:01,76")

    assert found.log.minutes == (0, 1)
    assert found.log.celsius == (69, 75)
    assert found.found.repeated == 3


def test_a_log_over_two_days_reads_day_and_month_the_short_way() -> None:
    found = read_log("03/10/2026 23:55,70\n04/10/2026 00:00,75")

    assert found.log.minutes == pytest.approx((0, 5))


@pytest.mark.parametrize(("form", "minutes"), [(TimeForm.SECONDS, 1000 / 60), (TimeForm.MINUTES, 1000)])
def test_an_answer_settles_the_unit_of_time(form: TimeForm, minutes: float) -> None:
    text = "0,70\n1000,75"

    with pytest.raises(LogRefused) as refused:
        read_log(text)

    assert refused.value.problem is LogProblem.TIME_UNIT_UNKNOWN
    assert read_log(text, time_form=form).log.minutes[-1] == pytest.approx(minutes)


# Refusals


REFUSALS = {
    "nothing": ("", LogProblem.EMPTY, None),
    "blanks": (" \n\t\n", LogProblem.EMPTY, None),
    "no bytes": (b"", LogProblem.EMPTY, None),
    "a picture": (bytes(range(256)) * 20, LogProblem.BINARY, None),
    "zeros": (b"14:00,20\n\x00\x00\x00", LogProblem.BINARY, None),
    "words": ("It got hot and stayed hot.", LogProblem.NO_READINGS, 1),
    "only a heading": ("time,temp\n", LogProblem.NO_READINGS, 1),
    "only numbers": ("20\n21\n22", LogProblem.NO_READINGS, 1),
    "a word among degrees": ("time,temp\n14:00,20\n14:05,warm\n", LogProblem.BAD_TEMPERATURE, 3),
    "a blank degree": ("time,temp\n14:00,20\n14:05,\n14:06,20", LogProblem.BAD_TEMPERATURE, 3),
    "not a number": ("14:00,20\n14:05,nan\n", LogProblem.BAD_TEMPERATURE, 2),
    "endless": ("14:00,20\n14:05,inf\n", LogProblem.BAD_TEMPERATURE, 2),
    "an underscore": ("14:00,20\n14:05,7_5\n", LogProblem.BAD_TEMPERATURE, 2),
    "an underscore beside a decimal comma": ("14:00;20,5\n14:05;7_5,2\n", LogProblem.BAD_TEMPERATURE, 2),
    "a word among times": ("14:00,20\nlater,21\n", LogProblem.BAD_TIME, 2),
    "an impossible hour": ("14:00,20\n25:00,21\n", LogProblem.BAD_TIME, 2),
    "an impossible minute": ("14:00:00,20\n14:61:00,21\n", LogProblem.BAD_TIME, 2),
    "an impossible day": ("2026-02-30 14:00,20\n2026-02-30 14:01,20", LogProblem.BAD_TIME, 1),
    "thirteen in the afternoon": ("1:00 PM,20\n13:00 PM,21\n", LogProblem.BAD_TIME, 2),
    "a time lost": ("minute,temp\n0,20\n,21\n", LogProblem.BAD_TIME, 3),
    "a clock time lost": ("time,temp\n14:00,20\n,21\n", LogProblem.BAD_TIME, 3),
    "a date lost": ("2026-10-03 14:00,20\n14:05,21\n", LogProblem.BAD_TIME, 2),
    "a zone lost": ("2026-10-03T14:00Z,20\n2026-10-03T14:05,21\n", LogProblem.BAD_TIME, 2),
    "a short row": ("n,time,temp\n1,14:00,20\n2,14:05\n", LogProblem.UNEVEN_ROW, 3),
    "backwards": ("14:00,20\n14:05,30\n\n13:30,40\n", LogProblem.BACKWARDS, 4),
    "minutes backwards": ("0,20\n5,30\n4,40\n", LogProblem.BACKWARDS, 3),
    "days backwards": ("2026-10-03 14:00,20\n2026-10-01 14:00,30", LogProblem.BACKWARDS, 2),
    "a broken lead": ("14:00,20\n14:05,-40\n", LogProblem.OUT_OF_BOUNDS, 2),
    "a lead open in Fahrenheit": ("time,temp F\n14:00,-500\n14:05,70\n", LogProblem.OUT_OF_BOUNDS, 2),
    "an open lead": ("time,temp C\n14:00,20\n14:05,300\n", LogProblem.OUT_OF_BOUNDS, 3),
    "a lead open in any unit": ("14:00,20\n14:05,249\n", LogProblem.OUT_OF_BOUNDS, 2),
    "a letter that is no unit": ("14:00,20\n14:05,75X\n", LogProblem.BAD_TEMPERATURE, 2),
    "colder than the coldest taken": ("time,temp C\n14:00,-20\n14:05,-20.1\n", LogProblem.OUT_OF_BOUNDS, 3),
    "hotter than the hottest taken": ("time,temp C\n14:00,120\n14:05,120.1\n", LogProblem.OUT_OF_BOUNDS, 3),
    "torn decimals": ("14:00,75,2\n14:05,75,4\n14:10,75,3", LogProblem.DECIMALS_UNCLEAR, None),
    "no degrees": ("time,note\n14:00,x\n14:05,y", LogProblem.NO_READINGS, 1),
}


@pytest.mark.parametrize(("data", "problem", "line"), REFUSALS.values(), ids=REFUSALS.keys())
def test_what_cannot_be_read_is_refused_with_its_line(data: bytes | str, problem: LogProblem, line: int | None) -> None:
    with pytest.raises(LogRefused) as refused:
        read_log(data)

    assert refused.value.problem is problem
    assert refused.value.line == line


@pytest.mark.parametrize(
    ("text", "value"),
    [
        ("time,temp C\n14:00,20\n14:05,300\n", "300"),
        ("minute,temp C\n0,20\nx5,21\n", "x5"),
        ("n,time,temp\n1,14:00,20\n2,14:05\n", "2 14:05"),
    ],
)
def test_a_refusal_shows_what_could_not_be_read(text: str, value: str) -> None:
    with pytest.raises(LogRefused) as refused:
        read_log(text)

    assert refused.value.value == value


def test_the_coldest_and_the_hottest_that_a_yard_knows_are_read() -> None:
    assert read_log("time,temp C\n14:00,-20\n14:05,120\n").log.celsius == (-20, 120)
    with pytest.raises(UnitUnknown):
        read_log("14:00,68\n14:05,248")  # 120 C, if it is Fahrenheit


def test_a_line_is_found_again_where_blanks_part_the_cells() -> None:
    with pytest.raises(LogRefused) as refused:
        read_log("Logger 7\n14:00 20\n\n14:05 hot\n")

    assert (refused.value.problem, refused.value.line) == (LogProblem.BAD_TEMPERATURE, 4)


def test_the_mark_of_an_encoding_is_no_part_of_the_first_reading() -> None:
    text = LOGS["no heading"]

    for data in ("\ufeff" + text, b"\xfe\xff" + text.encode("utf-16-be"), b"\xff\xfe" + text.encode("utf-16-le")):
        assert read_log(data).found.rows == 3


def test_a_file_cut_in_the_middle_of_a_character_is_refused_with_words() -> None:
    with pytest.raises(LogRefused):
        read_log((LOGS["minutes"]).encode("utf-16") + b"1")


def test_a_line_is_found_again_below_a_preamble_and_blank_lines() -> None:
    text = "Logger 7\n\nTime,Temp °C\n14:00,20\n\n14:05,hot\n"

    with pytest.raises(LogRefused) as refused:
        read_log(text)

    assert refused.value.line == 6
    assert refused.value.value == "hot"


def test_a_log_too_long_is_refused_at_once() -> None:
    with pytest.raises(LogRefused) as refused:
        read_log("0,20\n" * 500_001)

    assert refused.value.problem is LogProblem.TOO_LONG


def test_a_file_too_large_is_refused_unread() -> None:
    with pytest.raises(LogRefused) as refused:
        read_log(b"0" * 40_000_001)

    assert (refused.value.problem, refused.value.value) == (LogProblem.TOO_LONG, "40000001")


@given(st.one_of(st.binary(max_size=400), st.text(max_size=400)))
@settings(deadline=None)
def test_anything_at_all_is_read_or_refused(data: bytes | str) -> None:
    try:
        found = read_log(data)
    except LogRefused:
        return

    assert len(found.log.minutes) >= 1


LIKELY = """0 1 5 -40 300 75,2 75.2 14:00 14:05 23:59 00:01 2026-10-03 03/10/2026 1e9 nan F C °C
temp time x 2026-10-03T14:00:00Z"""
CELLS = st.sampled_from(["", '"', "2026-10-03 14:00", "14:00 PM", *LIKELY.split()])


@given(
    st.lists(st.lists(CELLS, min_size=1, max_size=4), min_size=1, max_size=8),
    st.sampled_from(",;\t |"),
)
@settings(deadline=None)
def test_anything_that_looks_like_a_log_is_read_or_refused(rows: list[list[str]], delimiter: str) -> None:
    text = "\n".join(delimiter.join(cells) for cells in rows)

    line, celsius = None, ()
    try:
        celsius = read_log(text).log.celsius
    except LogRefused as refused:
        line = refused.line

    assert line is None or 1 <= line <= len(rows)
    assert all(-20 <= c <= 120 for c in celsius)


@given(
    st.lists(st.tuples(st.integers(0, 30), st.integers(-150, 900)), min_size=2, max_size=60),
    st.integers(0, 86_399),
)
@settings(deadline=None)
def test_a_day_of_clock_times_is_read_back(steps: list[tuple[int, int]], start: int) -> None:
    lines, at, expected = [], start, []
    for step, tenths in steps:
        at += step + 1
        clock = at % 86_400
        lines.append(f"{clock // 3600:02}:{clock // 60 % 60:02}:{clock % 60:02};{tenths / 10:.1f}")
        expected.append((at, tenths / 10))

    found = read_log("\n".join(lines).replace(".", ","), unit=TemperatureUnit.CELSIUS)

    assert found.log.minutes == pytest.approx([(a - expected[0][0]) / 60 for a, _ in expected])
    assert found.log.celsius == pytest.approx([c for _, c in expected])


# Drawing


def test_thinning_keeps_the_ends_and_the_dip() -> None:
    noise = random.Random(7)
    celsius = [75 + noise.random() for _ in range(20_000)]
    celsius[12_345] = 61.0
    whole = HeatLog(minutes=tuple(map(float, range(20_000))), celsius=tuple(celsius))

    drawn = thinned(whole, most=400)

    assert len(drawn.minutes) <= 400
    assert (drawn.minutes[0], drawn.minutes[-1]) == (0, 19_999)
    assert min(drawn.celsius) == 61
    assert max(drawn.celsius) == max(celsius)


@pytest.mark.parametrize("most", [10, 11, 400])
def test_thinning_uses_the_room_it_has(most: int) -> None:
    zigzag = HeatLog(minutes=tuple(map(float, range(1000))), celsius=tuple(70.0 + i % 7 for i in range(1000)))

    assert most - 2 <= len(thinned(zigzag, most=most).minutes) <= most
    assert len(thinned(zigzag, most=4).minutes) <= 4


def test_a_short_log_is_drawn_whole() -> None:
    whole = HeatLog(minutes=(0.0, 1.0), celsius=(20.0, 21.0))

    assert thinned(whole, most=400) is whole
    five = HeatLog(minutes=(0.0, 1.0, 2.0, 3.0, 4.0), celsius=(20.0, 21.0, 25.0, 22.0, 23.0))
    assert thinned(five, most=5) is five
    assert len(thinned(five, most=4).minutes) <= 4


def test_a_person_chooses_the_column_among_those_that_may_hold_temperatures() -> None:
    text = "no;time;bath C;juice C\n" + "\n".join(f"{n};13:0{n};82.0;76.0" for n in range(5))
    found = read_log(text).found
    assert (found.column, found.places) == ("juice C", (3, 2))

    chosen = read_log(text, column=2)
    assert chosen.found.column == "bath C"
    assert chosen.found.places == (2, 3)
    assert set(chosen.log.celsius) == {82.0}
    assert read_log(text, column=1).found == found  # the time is no temperature
    assert read_log(text, column=99).found == found
