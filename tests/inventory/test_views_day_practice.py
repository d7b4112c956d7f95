"""How the studio does a casting day: one set of figures, common practice until it is saved."""

import re
from datetime import UTC, datetime, time

import pytest

from inventory.models import CastingDay, DayPractice, Material, Schedule
from inventory.queries.studio import current_practice
from tests import workshop
from tests.support import text_of

pytestmark = pytest.mark.django_db

TYPED = {
    "button_pct100": "12 %",
    "button_least_mg": "8 g",
    "smallest_portion_mg": "0.2",
    "wall_clearance_um": "7",
    "top_clearance_um": "0.5 in",
    "over_mix_pct100": "8",
    "bowl_powder_mg": "1.5 kg",
    "mix_s": "3:30",
    "vacuum_bowl_s": "45 s",
    "fill_s": "1 min",
    "vacuum_flask_s": "1 min 30 s",
    "standing_minutes": "1:30",
    "room_c": "68 F",
    "climb_c_per_hour": "400 C/h",
    "fall_c_per_hour": "",
    "largest_step_c": "50",
    "crucible_c": "1200 F",
    "lead_minutes": "15",
    "quench_minutes": "20 min",
    "out_minutes": "2",
    "table_minutes": "4",
    "change_minutes": "6 min",
    "cooling_minutes": "",
    "fall_tenths_c_s": "4.5 F/s",
    "carry_s": "10 s",
    "altitude_m": "500",
    "night_from": "23:00",
    "night_to": "06:30",
    "alarm_before_minutes": "5",
}


def test_common_practice_stands_in_it_until_it_is_saved(bench):
    page = text_of(bench.get("/setup/day/"))
    assert "Until you save it, it is common practice" in page
    assert all(f'value="{text}"' in page for text in ("10 %", "4 min", "2 h", "100 C", "22:00"))
    # A token may hold any digits: only what stands in a field or beside it counts.
    assert not re.search(r'value="650|>650|75 °C', page)
    assert not DayPractice.objects.exists()


def test_all_of_it_is_saved_in_one_row(bench):
    assert bench.post("/setup/day/", TYPED).status_code == 302
    practice = current_practice()
    assert (practice.pk, practice.button_pct100, practice.button_least_mg) == (1, 1200, 8_000)
    assert (practice.top_clearance_um, practice.smallest_portion_mg) == (12_700, 200)
    seconds = (practice.mix_s, practice.vacuum_bowl_s, practice.fill_s, practice.vacuum_flask_s)
    assert seconds == (210, 45, 60, 90)
    assert (practice.room_c, practice.crucible_c) == (20, 649)
    assert (practice.climb_c_per_hour, practice.fall_c_per_hour) == (400, None)
    assert practice.bowl_powder_mg == 1_500_000
    in_turn = (
        practice.out_minutes,
        practice.table_minutes,
        practice.change_minutes,
        practice.cooling_minutes,
    )
    assert in_turn == (2, 4, 6, None)
    assert (practice.fall_tenths_c_s, practice.carry_s, practice.altitude_m) == (25, 10, 500)
    assert (practice.night_from, practice.night_to) == (time(23), time(6, 30))


def test_it_is_saved_again_over_itself(bench):
    bench.post("/setup/day/", TYPED)
    bench.post("/setup/day/", {**TYPED, "button_pct100": "15"})
    assert DayPractice.objects.get().button_pct100 == 1500


@pytest.mark.parametrize(
    ("field", "text", "sentence"),
    [
        ("button_pct100", "", "Write a percentage such as 2.5."),
        ("button_pct100", "101", "The most this field takes is 100 %."),
        ("button_least_mg", "11 kg", "The most this field takes is"),
        ("smallest_portion_mg", "0", "Write more than 0."),
        ("wall_clearance_um", "1 oz", "This cannot be read. Write a length"),
        ("mix_s", "4", "Minutes or seconds? Write 4 min or 4 s."),
        ("mix_s", "59 min", "The parts come to more than 1 h. Check each of them."),
        ("mix_s", "-1 min", "This cannot be below zero."),
        ("standing_minutes", "25 h", "The most this field takes is 24 h."),
        ("room_c", "51", "The most this field takes is 50 °C."),
        ("largest_step_c", "4", "Write at least 5 °C."),
        ("crucible_c", "1400", "The most this field takes is 1,300 °C."),
        ("climb_c_per_hour", "0", "Write more than 0."),
        ("fall_c_per_hour", "1501", "The most this field takes is 1,500 °C an hour."),
        ("bowl_powder_mg", "0", "Write more than 0."),
        ("lead_minutes", "4 h", "The most this field takes is 3 h."),
        ("out_minutes", "31 min", "The most this field takes is 30 min."),
        ("change_minutes", "", "Write"),
        ("fall_tenths_c_s", "51", "The most this field takes is 50 °C a second."),
        ("carry_s", "3 min", "The most this field takes is 2 min."),
        ("altitude_m", "6001", "6000"),
        ("night_from", "25:00", "This time cannot be read. Write it as 14:30."),
        ("alarm_before_minutes", "4 h", "The most this field takes is 3 h."),
    ],
)
def test_a_refused_figure_keeps_what_was_typed_and_changes_nothing(bench, field, text, sentence):
    page = text_of(bench.post("/setup/day/", {**TYPED, field: text}))
    assert sentence in page
    assert 'value="1200 F"' in page or field == "crucible_c"
    assert not DayPractice.objects.exists()


def test_a_working_time_of_nothing_is_refused(bench):
    nothing = dict.fromkeys(("mix_s", "vacuum_bowl_s", "fill_s", "vacuum_flask_s"), "0")
    assert "write how long you mix" in text_of(bench.post("/setup/day/", {**TYPED, **nothing}))


def test_a_powder_that_sets_sooner_is_a_caution(bench):
    Material.objects.filter(pk=workshop.powder().pk).update(working_minutes=7)
    page = text_of(bench.get("/setup/day/"))
    assert "Investment powder: Mixing, vacuum and pouring take 8 min" in page
    bench.post("/setup/day/", TYPED)
    assert "Mixing, vacuum and pouring" not in text_of(bench.get("/setup/day/"))


def test_the_times_of_days_to_come_move_with_it(bench):
    schedule = Schedule.objects.create(name="Small flask")
    wish_at = datetime(2026, 12, 5, 15, tzinfo=UTC)
    day = CastingDay.objects.create(
        kiln=workshop.kiln(), schedule=schedule, wish_at=wish_at, standing_minutes=120
    )
    bench.post("/setup/day/", TYPED)
    day.refresh_from_db()
    assert day.revision == 1


def test_it_asks_a_constant_number_of_questions(bench, django_assert_num_queries):
    with django_assert_num_queries(5):  # the session, the person, the studio, the practice, the powders
        bench.get("/setup/day/")
