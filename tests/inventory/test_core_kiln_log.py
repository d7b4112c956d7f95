"""The file of a thermocouple: read whatever its shape, refused with a sentence, and what is found in it."""

from datetime import UTC, datetime, timedelta
from random import Random
from zoneinfo import ZoneInfo

import pytest

from inventory.core import kiln_log
from inventory.core.kiln_holds import (
    MOST_POINTS,
    compute_figures,
    count_degree_hours,
    explain_figures,
    find_kiln_on,
    thin,
)
from inventory.core.kiln_log import NotALog, read_log, tell_odd
from inventory.core.schedule import ScheduleStep, compute_curve, lay_out
from tests.inventory.made_kiln import TURNS, fire

LONDON = ZoneInfo("Europe/London")
FIRED = fire(Random(5), every=1.0)
STEPS = tuple(ScheduleStep(set_c, hold_minutes=hold) for set_c, hold in TURNS)


def write(form, between=",", head="", fired=FIRED):
    lines = [between.join(form(minute, c)) for minute, c in fired]
    return "\n".join([head, *lines] if head else lines).encode()


def clock(minute, begin=datetime(2026, 3, 14, 20, 0, tzinfo=UTC)):
    return begin + timedelta(minutes=minute)


FORMS = {
    "seconds": write(lambda minute, c: (f"{minute * 60:.0f}", f"{c:.1f}"), head="Time (s),Temp (C)"),
    "no header": write(lambda minute, c: (f"{minute * 60:.0f}", f"{c:.1f}")),
    "minutes": write(lambda minute, c: (f"{minute:.2f}", f"{c:.1f}"), "\t"),
    "hours": write(lambda minute, c: (f"{minute / 60:.5f}", f"{c:.1f}"), head="hours,°C"),
    "decimal comma": write(
        lambda minute, c: (f"{minute:.2f}".replace(".", ","), f"{c:.1f}".replace(".", ",")), ";"
    ),
    "quoted comma": write(lambda minute, c: (f"{minute * 60:.0f}", f'"{c:.1f}"'.replace(".", ","))),
    "Fahrenheit": write(lambda minute, c: (f"{minute * 60:.0f}", f"{c * 1.8 + 32:.2f}"), head="sec,Temp °F"),
    "elapsed": write(
        lambda minute, c: (
            f"{int(minute) // 60}:{int(minute) % 60:02d}:{int(minute * 60) % 60:02d}",
            f"{c:.1f}",
        )
    ),
    "over midnight": write(lambda minute, c: (f"{clock(minute):%H:%M:%S}", f"{c:.1f}")),
    "twelve hours": write(lambda minute, c: (f"{clock(minute):%m/%d/%Y %I:%M:%S %p}", f"{c:.1f}")),
    "a day and a clock": write(
        lambda minute, c: (f"{clock(minute):%Y-%m-%d}", f"{clock(minute):%H:%M:%S}", f"{c:.1f}")
    ),
    "blanks": write(lambda minute, c: (f"{clock(minute):%Y-%m-%d %H:%M:%S}", f"{c:.1f}"), "  "),
    "other columns": write(
        lambda minute, c: (str(round(minute) + 1), f"{clock(minute).isoformat()}", "21.5", f"{c:.1f}", "ok"),
        head="made by a logger\nunits °C\nNo,Date and time,Ambient temp,Probe temp,State",
    ),
    "since 1970": write(lambda minute, c: (f"{clock(minute).timestamp():.0f}", f"{c:.1f}")),
    "utf-16": b"\xff\xfe"
    + write(lambda minute, c: (f"{minute * 60:.0f}", f"{c:.1f}")).decode().encode("utf-16-le"),
    "lines of Windows": write(lambda minute, c: (f"{minute * 60:.0f}", f"{c:.1f}\r")),
    "lines of an old Mac": write(lambda minute, c: (f"{minute * 60:.0f}", f"{c:.1f}")).replace(b"\n", b"\r"),
    "thousandths since 1970": write(
        lambda minute, c: (f"{clock(minute).timestamp() * 1000:.0f}", f"{c:.1f}")
    ),
}


@pytest.mark.parametrize("name", FORMS)
def test_every_shape_of_file_gives_the_same_readings(name):
    log = read_log(FORMS[name], LONDON)
    assert len(log.readings) == len(FIRED) and not log.odd_lines
    for (minute, c), (true_minute, true_c) in zip(log.readings, FIRED, strict=True):
        assert abs(minute - true_minute) < 0.02 and abs(c - true_c) < 0.06
    absolute = ("a day and a clock", "blanks", "other columns", "since 1970", "thousandths since 1970")
    assert log.begun == (clock(0) if name in absolute else None)


def test_the_person_may_say_the_units():
    said = read_log(write(lambda m, c: (f"{m:.2f}", f"{c * 1.8 + 32:.1f}")), LONDON, "F", "min")
    assert max(c for _, c in said.readings) < 760
    assert read_log(FORMS["no header"], LONDON, time_unit="s").readings[-1][0] == FIRED[-1][0]
    with pytest.raises(NotALog, match="°F"):
        read_log(write(lambda m, c: (f"{m:.2f}", f"{c * 1.8 + 32:.1f}")), LONDON)


@pytest.mark.parametrize("day", [datetime(2026, 3, 28, 20, 0), datetime(2026, 10, 24, 20, 0)])
def test_wall_times_are_real_ones_through_a_change_of_the_clocks(day):
    begin = day.replace(tzinfo=LONDON).astimezone(UTC)
    local = write(lambda m, c: (f"{clock(m, begin).astimezone(LONDON):%Y-%m-%d %H:%M:%S}", f"{c:.1f}"))
    log = read_log(local, LONDON)
    assert log.readings[-1][0] == pytest.approx(FIRED[-1][0]) and not log.odd_lines and log.begun == begin


def test_two_readings_of_a_second_stay_together_in_the_hour_that_comes_twice():
    log = read_log(
        "\n".join(f"2026-10-25 01:{m:02d}:00,{m}" for m in range(31) for _ in "12").encode(), LONDON
    )
    assert (log.readings[-1][0], log.odd_lines) == (30, 0)


def test_odd_lines_are_counted_and_said_and_count_for_nothing():
    lines = FORMS["seconds"].decode().split("\n")
    odd = [
        "=1+1,=2+2",
        "60,NaN",
        "61,inf",
        "62,1e999",
        "63,",
        ",20",
        "nonsense",
        "64,9999",
        "-1,20",
        "٣,20",
        '"6',
    ]
    lines[50:50] = odd
    log = read_log("\n".join(lines).encode(), LONDON)
    assert (log.odd_lines, log.first_odd, len(log.readings)) == (len(odd), 51, len(FIRED))
    assert list(tell_odd(log.odd_lines, log.first_odd)) == [
        "11 lines could not be read and count for nothing; the first is line 51."
    ]


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", kiln_log.NO_READINGS),
        (b"\n\n \n", kiln_log.NO_READINGS),
        (b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR" * 9, kiln_log.NO_TEXT),
        (b"PK\3\4" + bytes(range(256)), kiln_log.NO_TEXT),
        (b"\xff\xfe\0\xd8", kiln_log.NO_TEXT),
        (b"1," * 900_000 + b"2", kiln_log.NO_READINGS),
        (b"=cmd|' /C calc'!A0,=1+1\n" * 40, kiln_log.NO_READINGS),
        (b"0,NaN\n1,1e999\n" * 40, kiln_log.NO_READINGS),
        (b"0,1e999\n1,1e999\n" * 40, kiln_log.NO_READINGS),
        (b"0,20\n1,30\n", kiln_log.TOO_SHORT),
        (b"x" * 5_000_001, kiln_log.TOO_LARGE),
        (b"1,2\n" * 200_001, kiln_log.TOO_LONG),
        (b'"' * 5_000, kiln_log.NO_READINGS),
        ("\n".join(f"{day * 80_000},{day + 20}" for day in range(40)).encode(), kiln_log.NO_FIRING),
        ("\n".join(f"2026-13-{n:02d} 10:00:00,{n}" for n in range(10, 40)).encode(), kiln_log.NO_READINGS),
        ("\n".join(f"0001-01-01 00:{n:02d}:00,{n}" for n in range(60)).encode(), ""),
        ("\n".join(f"9999-12-31 23:{n:02d}:00,{n}" for n in range(60)).encode(), ""),
    ],
)
def test_what_is_no_log_is_met_with_a_sentence(content, sentence):
    try:
        read_log(content, ZoneInfo("Pacific/Apia"))
        said = ""
    except NotALog as refused:
        said = str(refused)
    assert said == sentence or (said and not sentence)


def log_of(*lines, **said):
    return read_log("\n".join(lines).encode(), LONDON, **said)


def refusal_of(*lines, **said):
    try:
        log_of(*lines, **said)
    except NotALog as refused:
        return str(refused)
    return ""


def test_what_was_taken_for_what_is_said():
    other = read_log(FORMS["other columns"], LONDON).how
    assert other == "Times from column 2, as days and times; temperatures from column 4, in °C."
    plain = read_log(FORMS["no header"], LONDON).how
    assert plain == (
        "Times from column 1, in seconds, as they look; temperatures from column 2, in °C, as nothing else is said."
    )
    assert "in hours; temperatures from column 2, in °C." in read_log(FORMS["hours"], LONDON).how
    assert (kiln_log.TOO_LARGE, kiln_log.TOO_LONG) == (
        "This file is too large. Send one of at most 5 MB.",
        "This file has too many lines. Send one of at most 200,000.",
    )


TEN = [f"{second},20" for second in [*range(1000, 1540, 60), 1600]]


def test_ten_readings_over_ten_minutes_are_the_least():
    assert len(log_of(*TEN, time_unit="s").readings) == 10
    assert refusal_of(*TEN[:-2], TEN[-1], time_unit="s") == kiln_log.TOO_SHORT
    assert refusal_of(*TEN[:-1], "1599,20", time_unit="s") == kiln_log.TOO_SHORT
    half = [*TEN, *["1601,2000"] * 10]
    assert log_of(*half, time_unit="s").odd_lines == 10
    assert refusal_of(*half, "1601,2000", time_unit="s") == kiln_log.BACKWARDS


def test_a_firing_lasts_a_week_at_most_and_a_file_is_bounded():
    week = [f"{hour},{hour}" for hour in range(0, 168, 12)]
    assert log_of(*week, "168,20", time_unit="h").readings[-1][0] == 7 * 24 * 60
    assert refusal_of(*week, "168.1,20", time_unit="h") == kiln_log.NO_FIRING
    # As long as it may be, of which most is blank.
    content = "\n".join(TEN).encode()
    assert read_log(content + b"\n" + b" " * (4_999_999 - len(content)), LONDON, time_unit="s")
    assert refusal_of(*["1,2"] * 200_000) == kiln_log.NO_READINGS


def test_two_wild_readings_above_any_burnout_do_not_ask_for_the_unit():
    warm = [f"{minute},1100" for minute in range(20)]
    assert log_of(*warm, "20,1101", "21,1400", "22,-50", time_unit="min").odd_lines == 0
    assert refusal_of(*warm, "20,1101", "21,1101", "22,1101", time_unit="min") == kiln_log.WHICH_UNIT


@pytest.mark.parametrize(
    ("last", "unit"), [(48, "hours"), (49, "minutes"), (3000, "minutes"), (3001, "seconds")]
)
def test_plain_numbers_are_taken_for_what_makes_them_a_firing(last, unit):
    """Less than two days: hours up to 48, minutes up to 3,000. That the clock of the logger ran before is nothing."""
    begin = 5_000
    lines = [f"{begin + place * last / 20:.3f},{600 - place}" for place in range(21)]
    # Ten minutes is the least, which 3,001 seconds are.
    assert f"in {unit}, as they look" in log_of(*lines).how


def test_a_clock_that_goes_back_half_a_day_has_passed_midnight_and_one_that_was_set_back_has_not():
    morning = [f"{hour}:{minute:02d}:00,500" for hour in (10, 11) for minute in range(0, 60, 5)]
    past = log_of(*morning, "12:45:00,500", "00:10:00,400")
    assert (past.readings[-1][0], past.odd_lines) == (14 * 60 + 10, 0)
    torn = log_of("0:00:00,20", "?,21", *(f"0:{minute:02d}:00,22" for minute in range(1, 30)))
    assert (len(torn.readings), torn.odd_lines) == (30, 1)
    set_back = log_of(*morning, "12:00:00,500", "00:20:00,400", "11:00:00,400", "12:10:00,390")
    assert (set_back.readings[-1][0], set_back.odd_lines) == (2 * 60 + 10, 2)


def test_a_logger_may_pause_for_a_day_and_read_twice_in_a_second():
    lines = [f"{minute * 60},20" for minute in range(20)]
    paused = log_of(*lines, f"{19 * 60 + 86_400},30", "99000,40", "99000.4,40", "99000.4,41", time_unit="s")
    assert (len(paused.readings), paused.odd_lines) == (24, 0)
    longer = log_of(*lines, f"{19 * 60 + 86_401},30", f"{19 * 60 - 1},30", time_unit="s")
    assert (len(longer.readings), longer.odd_lines) == (20, 2)


@pytest.mark.parametrize(
    "good",
    [
        [f"{200 - m},{m * 60}" for m in range(40)],
        [f"{m},{clock(m):%H:%M:%S}" for m in range(40)],
        [f"{m},{clock(m):%Y-%m-%d},{clock(m):%H:%M:%S}" for m in range(40)],
        [f"{m},{clock(m).isoformat()}" for m in range(40)],
    ],
)
def test_a_line_that_breaks_off_is_odd_wherever_the_time_stands(good):
    log = log_of(*good, "7", "8,2026-03-14", '"' + "x" * 140_000 + ",20")
    assert (len(log.readings), log.odd_lines) == (40, 3)


def test_remarks_behind_some_lines_do_not_change_where_the_others_are_cut():
    lines = [f"{m},{m}{'; door opened' if m % 5 > 2 else ''}" for m in range(100)]
    log = log_of(*lines, time_unit="min")
    assert (len(log.readings), log.odd_lines) == (60, 40)
    assert list(tell_odd(1, 7)) == ["1 line could not be read and counts for nothing: line 7."]
    assert list(tell_odd(0, 0)) == []


@pytest.mark.parametrize(
    ("year", "is_set"),
    [(1969, False), (1970, False), (2000, False), (2002, True), (2095, True), (2097, False)],
)
def test_a_clock_that_was_never_set_tells_no_day(year, is_set):
    """Those of loggers begin again with 1970 or 2000 (common practice of their makers)."""
    log = log_of(*(f"{year}-06-01T00:{m:02d}:00Z,20" for m in range(30)))
    assert log.begun == (datetime(year, 6, 1, tzinfo=UTC) if is_set else None)


def test_holds_peak_and_overshoot_are_found_against_the_schedule():
    # The middle one of five readings: a single wild one is no peak.
    fired = [(minute, 1300.0 if minute == 300 else c) for minute, c in fire(Random(7), noise=0.5)]
    before = [(float(minute), 20.0) for minute in range(30)]
    fired = before + [(minute + 30, c + 12 if 372 < c < 400 else c) for minute, c in fired]
    figures = compute_figures(fired, lay_out(STEPS), compute_curve(STEPS))
    assert abs(figures.on_minute - 30) <= 3 and abs(figures.peak_c - 732) <= 3
    assert [hold.set_c for hold in figures.holds] == [set_c for set_c, _ in TURNS]
    for hold, (_, minutes) in zip(figures.holds, TURNS, strict=True):
        # It comes to its mark but for three degrees: a hold begins and ends a little outside of itself.
        assert hold.minutes is not None and minutes - 1 <= hold.minutes <= minutes + 5
        assert hold.over_c is not None and hold.over_c <= 12 and not hold.short_minutes
    assert figures.degree_hours > 82 * 2.5
    assert "732" in str(explain_figures(figures, len(fired)))
    never = compute_figures(fired, lay_out((*STEPS, ScheduleStep(900, hold_minutes=60))))
    assert never.holds[-1].minutes is None and never.holds[-1].short_minutes == 60
    assert find_kiln_on([(0, 20.0), (1, 20.0)]) == 0


def test_an_overshoot_is_measured_from_the_set_point():
    over = [
        (float(m), 150 + 23.0 * (m in range(80, 90)) if m > 60 else 20 + 130 * m / 60) for m in range(180)
    ]
    (hold,) = compute_figures(over, lay_out((ScheduleStep(150, 60, hold_minutes=120),))).holds
    assert hold.over_c == 23


@pytest.mark.parametrize("before", [[], [(float(minute), 20.0) for minute in range(5)]])
def test_a_wire_that_was_put_in_late_never_saw_the_lower_holds(before):
    """One reading stands beyond two marks at once: the first hold is not in the file, and the second is whole."""
    begin = 60.0 if before else 0.0
    late = [*before, *((begin + 10 * place, 370.0) for place in range(13))]
    low, high = compute_figures(
        late, lay_out((ScheduleStep(150, 60, None, 60), ScheduleStep(370, 60, None, 120)))
    ).holds
    assert (low.minutes, low.reached, low.over_c) == (None, None, None)
    assert (high.minutes or 0) >= 120 and high.short_minutes == high.over_c == 0


def test_without_a_schedule_the_levels_are_the_holds():
    levels = compute_figures(fire(Random(8), noise=0.5)).holds
    assert [round(hold.set_c, -1) for hold in levels] == [150, 370, 730, 620]
    assert all(
        abs((hold.minutes or 0) - minutes) < 15 for hold, (_, minutes) in zip(levels, TURNS, strict=True)
    )


def test_degree_hours_by_hand():
    # An hour from 600 up to 700 and an hour held: above 650 a triangle of 30 min x 50 and 60 min x 50; computed.
    assert count_degree_hours([(0, 600), (60, 700), (120, 700)], 650) == pytest.approx(12.5 + 50)


def test_the_line_that_is_kept_has_few_points_and_every_peak():
    fired = fire(Random(3), every=0.05)
    line = thin(fired)
    assert len(fired) > 10_000 and len(line) <= MOST_POINTS
    degrees = [c for _, c in fired]
    assert {max(degrees), min(degrees)} <= {c for _, c in line}
    assert line[0] == fired[0] and line[-1] == fired[-1] and line == sorted(line)
    assert thin(fired[:600]) == fired[:600]
