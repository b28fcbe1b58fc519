"""Times as loggers write them. Clock times and stamps are also read by the standard library's `datetime`."""

from datetime import UTC, datetime, timedelta, timezone

import pytest

from kitshare.rules.readings_clock import (
    TimeForm,
    from_clock,
    from_date_and_clock,
    from_dated,
    from_numbers,
    looks_clock,
    looks_dated,
    merged,
)
from kitshare.rules.readings_refusals import LogProblem, LogRefused


def refusal(read, *cells):
    with pytest.raises(LogRefused) as refused:
        read(*cells)
    return refused.value


@pytest.mark.parametrize(
    "cell",
    [
        "3.10.2026",
        "03/10/26",
        "2026-10-03",
        "2026/10/3",
        "2026-10-03T14:05",
        "3.10.2026 14:05:00",
        "3-10-2026  2:05 pm",
    ],
)
def test_a_date_is_seen_with_or_without_a_time(cell):
    assert looks_dated(cell)


@pytest.mark.parametrize(
    "cell", ["14:05", "3.10", "3.10.2", "2026-10", "T2026-10-03", "x 2026-10-03", "2026-10-03x", ""]
)
def test_what_is_no_date_is_not_taken_for_one(cell):
    assert not looks_dated(cell)


@pytest.mark.parametrize(
    "cell", ["2:05", "14:05:00", "14:05:00.5", "14:05:00,123456", "2:05 pm", "2:05PM", "2:05 p.m.", "2:05am."]
)
def test_a_time_of_day_is_seen(cell):
    assert looks_clock(cell)


@pytest.mark.parametrize(
    "cell", ["14", "14:5", "14:05:0", "14:05:00.", "14:05:00.1234567", "2:05 p", "2:05 xm", "14.05", ""]
)
def test_what_is_no_time_of_day_is_not_taken_for_one(cell):
    assert not looks_clock(cell)


HALVES = ("am", "pm", " AM", " PM", " a.m.", " p.m.", "A.M.", "P.M", " Pm.", "aM")


@pytest.mark.parametrize("hour", [1, 7, 11, 12])
@pytest.mark.parametrize("half", HALVES)
def test_a_clock_of_twelve_hours_is_read_as_datetime_reads_it(hour, half):
    plain = half.strip().replace(".", "").upper()
    then = datetime.strptime(f"{hour:02}:05 {plain}", "%I:%M %p")  # noqa: DTZ007

    times = from_clock([f"{hour}:05{half}", f"{hour:02}:05:30{half}", f"{hour:02}:05:30,25{half}"])

    first = then.hour * 60 + then.minute
    assert times.minutes == pytest.approx([first, first + 0.5, first + 0.5 + 0.25 / 60], abs=1e-12)
    assert (times.form, times.midnights, times.clock_changes) == (TimeForm.CLOCK, 0, 0)


def test_noon_between_morning_and_afternoon_is_one_minute_like_any_other():
    assert from_clock(["11:59 a.m.", "12:00 p.m.", "12:01 p.m.", "1:00 p.m."]).minutes == [719, 720, 721, 780]


def test_parts_of_a_second_are_kept_to_the_millionth():
    times = from_clock(["14:05:00.000001", "14:05:00.5", "14:05:00,75", "14:05:01"])

    assert [round((minute - 845) * 60e6) for minute in times.minutes] == [1, 500_000, 750_000, 1_000_000]


@pytest.mark.parametrize("bad", ["24:00", "14:60", "14:05:60", "0:05 am", "13:05 pm", "14:05:0x", "nonsense", "14:05 "])
def test_a_time_that_no_clock_shows_is_refused_with_its_row(bad):
    refused = refusal(from_clock, ["14:00", "14:01", bad])

    assert (refused.problem, refused.value, refused.row) == (LogProblem.BAD_TIME, bad, 2)


@pytest.mark.parametrize(
    ("first", "second"),
    [
        ("2026-10-03 14:05:00", "2026-10-04 00:00:30"),
        ("2026-10-03T14:05:00", "2026-10-04T00:00:30"),
        ("2026/10/03 14:05:00", "2026/10/04 00:00:30"),
        ("03.10.2026 14:05:00", "04.10.2026 00:00:30"),
        ("03.10.2026 14:05:00,0", "04.10.2026 00:00:30,0"),
        ("3.10.2026 14:05", "4.10.2026 0:00:30"),
        ("3.10.2026T14:05", "4.10.2026T0:00:30"),
        ("3/10/26 2:05 pm", "4/10/26 12:00:30 am"),
        ("10/03/2026 14:05:00", "10/04/2026 00:00:30"),  # in March and April these two were a month apart
    ],
)
def test_dated_stamps_are_as_far_apart_as_datetime_says(first, second):
    apart = datetime(2026, 10, 4, 0, 0, 30, tzinfo=UTC) - datetime(2026, 10, 3, 14, 5, tzinfo=UTC)

    times = from_dated([first, second])

    assert times.minutes[1] - times.minutes[0] == pytest.approx(apart / timedelta(minutes=1), abs=1e-9)
    assert times.form is TimeForm.DATED


@pytest.mark.parametrize(
    ("text", "year"), [("3.10.26", 2026), ("3.10.99", 2099), ("3.10.00", 2000), ("2026-10-03", 2026)]
)
def test_a_year_of_two_figures_is_of_this_century(text, year):
    [minute] = from_date_and_clock([text], ["00:00"]).minutes

    assert minute / 1440 == datetime(year, 10, 3, tzinfo=UTC).toordinal()


def test_one_day_that_fits_one_order_alone_settles_it_for_all():
    times = from_date_and_clock(["10/12/2026", "10/13/2026"], ["23:00", "01:00"])

    assert times.minutes[1] - times.minutes[0] == 120
    assert times.minutes[0] // 1440 == datetime(2026, 10, 12, tzinfo=UTC).toordinal()


def test_where_both_orders_fit_alike_the_day_stands_first():
    [minute] = from_date_and_clock(["03/10/2026"], ["00:00"]).minutes

    assert minute / 1440 == datetime(2026, 10, 3, tzinfo=UTC).toordinal()


@pytest.mark.parametrize("bad", ["31.02.2026", "2026-13-40", "99/99/2026"])
def test_a_day_that_no_calendar_has_is_refused_with_its_row(bad):
    refused = refusal(from_dated, ["01.02.2026 14:00:00", f"{bad} 14:01:00"])

    assert (refused.problem, refused.value, refused.row) == (LogProblem.BAD_TIME, bad, 1)


def test_a_stamp_without_a_time_is_refused_with_its_row():
    refused = refusal(from_dated, ["2026-10-03 14:00:00", "2026-10-03"])

    assert (refused.problem, refused.value, refused.row) == (LogProblem.BAD_TIME, "2026-10-03", 1)


@pytest.mark.parametrize("between", ["x", "_", "-"])
def test_what_stands_between_date_and_time_is_a_blank_or_a_t(between):
    assert refusal(from_dated, [f"2026-10-03{between}14:00:00"] * 2).problem is LogProblem.BAD_TIME


def test_zones_are_taken_into_account():
    cells = [
        "2026-10-25T02:59:00+02:00",
        "2026-10-25T02:00:00+01:00",
        "2026-10-25 02:01:30 +01:00",
        "2026-10-25T01:02:00Z",
    ]
    moments = [datetime(2026, 10, 25, 0, 59, tzinfo=UTC) + timedelta(minutes=m) for m in (0, 1, 2.5, 3)]

    times = from_dated(cells)

    assert times.minutes == [moment.timestamp() / 60 for moment in moments]
    assert times.clock_changes == 0
    assert moments[0] == datetime(2026, 10, 25, 2, 59, tzinfo=timezone(timedelta(hours=2)))


@pytest.mark.parametrize("bad", ["2026-10-25T02:00:00", "2026-10-25T25:00:00Z", "nonsense"])
def test_among_stamps_with_a_zone_one_without_is_refused(bad):
    refused = refusal(from_dated, ["2026-10-25T02:59:00Z", bad])

    assert (refused.problem, refused.value, refused.row) == (LogProblem.BAD_TIME, bad, 1)


@pytest.mark.parametrize(
    ("first", "form", "apart"),
    [
        (1_790_000_000, TimeForm.EPOCH, 1),
        (1_790_000_000_000, TimeForm.EPOCH, 1 / 1000),
        (100_000_000, TimeForm.MINUTES, 60),
    ],
)
def test_numbers_as_large_as_the_years_are_seconds_or_their_thousandths(first, form, apart):
    times = from_numbers([float(first), float(first + 60)], None)

    assert (times.form, times.assumed) == (form, form is TimeForm.MINUTES)
    assert times.minutes[1] - times.minutes[0] == pytest.approx(apart, rel=1e-3)


@pytest.mark.parametrize(("last", "asked"), [(720.0, False), (720.5, True)])
def test_bare_numbers_over_more_than_twelve_hours_are_asked_about(last, asked):
    if asked:
        refused = refusal(from_numbers, [10.0, last + 10], None)
        assert (refused.problem, refused.value) == (LogProblem.TIME_UNIT_UNKNOWN, "720.5")
    else:
        assert from_numbers([10.0, last + 10], None).minutes == [10.0, last + 10]


@pytest.mark.parametrize(("back", "changes"), [(49, None), (50, 1), (60, 1), (61, None)])
def test_an_hour_back_is_the_change_of_clocks_and_nothing_else_is(back, changes):
    cells = ["02:58", "02:59", f"{(179 - back) // 60:02}:{(179 - back) % 60:02}", "02:59"]

    if changes is None:
        refused = refusal(from_clock, cells)
        assert (refused.problem, refused.value, refused.row) == (LogProblem.BACKWARDS, str(back), 2)
    else:
        times = from_clock(cells)
        assert times.clock_changes == changes
        assert times.minutes == [178, 179, 239 - back, 239]


@pytest.mark.parametrize(("back", "crossed"), [(720, True), (719, False)])
def test_half_a_day_back_is_midnight(back, crossed):
    cells = ["23:59", f"{(1439 - back) // 60:02}:{(1439 - back) % 60:02}"]

    if crossed:
        times = from_clock(cells)
        assert (times.midnights, times.form) == (1, TimeForm.CLOCK)
    else:
        assert refusal(from_clock, cells).problem is LogProblem.BACKWARDS


@pytest.mark.parametrize(
    ("first", "second", "noon"), [("12:31", "1:01", True), ("12:30", "1:01", False), ("9:31", "1:01", False)]
)
def test_eleven_hours_and_a_half_back_are_noon_where_no_clock_says_more_than_twelve(first, second, noon):
    if noon:
        times = from_clock([first, second])
        assert (times.minutes[1] - times.minutes[0], times.midnights) == (30, 0)
    else:
        assert refusal(from_clock, [first, second]).problem is LogProblem.BACKWARDS


def test_what_is_told_with_its_date_never_runs_back_over_noon():
    for cells in (["2026-10-03 12:31:00", "2026-10-03 01:01:00"], ["3.10.2026 12:31", "3.10.2026 1:01"]):
        assert refusal(from_dated, cells).problem is LogProblem.BACKWARDS
    for cells in (["2026-10-03T12:31:00Z", "2026-10-03T01:01:00Z"],):
        assert refusal(from_dated, cells).problem is LogProblem.BACKWARDS
    assert refusal(from_numbers, [751.0, 61.0], None).problem is LogProblem.BACKWARDS


def test_readings_of_one_moment_keep_the_coldest_and_are_counted():
    assert merged([0.0, 1.0, 1.0, 1.0, 2.0], [20.0, 75.0, 74.0, 76.0, 80.0]) == ([0.0, 1.0, 2.0], [20.0, 74.0, 80.0], 2)
    assert merged([0.0, 1.0], [20.0, 75.0]) == ([0.0, 1.0], [20.0, 75.0], 0)
