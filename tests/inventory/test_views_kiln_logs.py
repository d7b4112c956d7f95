"""The log of a thermocouple: sent in, drawn over the plan, taken out; and the next timetable goes by it."""

import re
from datetime import UTC, datetime, timedelta
from html import unescape
from random import Random
from time import process_time

import pytest
from django.test import Client

from inventory.core import kiln_log
from inventory.core.schedule import count_minutes, lay_out
from inventory.models import CastingDay, Equipment, Firing, KilnLog, Schedule, ScheduleStep
from inventory.posting.kiln_logs import remove_log
from inventory.queries.days import planned_minutes
from inventory.queries.kiln_curves import LATEST, curves_of
from inventory.queries.studio import current_practice, schedule_steps
from tests import workshop as w
from tests.inventory.kiln_logs import file, keep, write_file
from tests.inventory.made_kiln import TURNS, fire
from tests.support import once, text_of

QUICK = {"end_c": 1_250.0, "tau": 110.0}
"""A small kiln: from the room to 732 C in 110 ln(1230 / 518) = 95 min."""

pytestmark = pytest.mark.django_db


def lines(page: str) -> list[str]:
    """What is drawn as a line of many points: the plan, and the kiln as it went."""
    return sorted(
        set(re.findall(r"<polyline[^>]*part-line-(kiln|pieces)", page))
    )  # each is drawn for some widths


@pytest.fixture
def firing(studio: object) -> Firing:
    """Of a casting day whose schedule says nothing of its climbs: the kiln is turned by hand."""
    schedule = Schedule.objects.create(name="As fast as it can")
    ScheduleStep.objects.bulk_create(
        ScheduleStep(schedule=schedule, place=place, target_c=set_c, hold_minutes=hold)
        for place, (set_c, hold) in enumerate(TURNS)
    )
    fired = w.fire()
    day_for(schedule, fired.kiln, firing=fired)
    return fired


def day_for(schedule: Schedule, kiln: Equipment, firing: Firing | None = None) -> CastingDay:
    return CastingDay.objects.create(
        kiln=kiln,
        schedule=schedule,
        wish_at=datetime.now(UTC) + timedelta(days=2),
        standing_minutes=60,
        firing=firing,
    )


def send(bench: Client, firing: Firing, content: object = None, **said: object) -> object:
    return bench.post(
        f"/kiln-logs/{firing.pk}/", {**once(), "unit": "", "time_unit": "", "file": content or file(), **said}
    )


def test_a_log_is_drawn_over_the_plan_with_its_holds_and_teaches_the_kiln(
    bench: Client, firing: Firing
) -> None:
    assert "None yet." in text_of(bench.get(f"/firings/{firing.pk}/"))
    answer = send(bench, firing)
    assert answer["Location"] == f"/firings/{firing.pk}/"
    page = unescape(text_of(bench.get(f"/firings/{firing.pk}/"))).replace("\u00a0", " ")
    for said in (
        "probe.csv",
        "as planned",
        "as it went",
        "Its holds",
        "At full heat it goes towards",
        "from one log",
    ):
        assert said in page
    assert lines(page) == ["kiln", "pieces"]
    log = KilnLog.objects.get()
    assert [one["set_c"] for one in log.figures["holds"]] == [set_c for set_c, _ in TURNS]
    assert all(one["planned_minutes"] for one in log.figures["holds"]) and len(log.points) <= 600


def test_a_firing_that_burnt_out_lower_is_held_against_what_was_chosen_for_its_day(
    firing: Firing, django_user_model: type
) -> None:
    django_user_model.objects.create_user("Ada")
    CastingDay.objects.update(top_c=700)
    log = keep(firing)
    assert [one["set_c"] for one in log.figures["holds"]] == [150, 370, 700, 621]
    assert max(c for _, c in log.planned) == 700


def test_a_file_of_another_day_is_told_apart(bench: Client, firing: Firing) -> None:
    def sent_of(day: datetime) -> str:
        rows = [
            f"{day + timedelta(minutes=2 * minute):%Y-%m-%d %H:%M:%S},{20 + minute}" for minute in range(60)
        ]
        send(bench, firing, file("\n".join(["time,°C", *rows]).encode()))
        return text_of(bench.get(f"/firings/{firing.pk}/"))

    on = datetime.combine(firing.day, datetime.min.time())
    assert "Where it is of another firing, take it out" in sent_of(on - timedelta(days=60))
    assert "Where it is of another firing, take it out" not in sent_of(on - timedelta(hours=3))


@pytest.mark.parametrize("year", [1, 9999])
def test_stamps_at_the_ends_of_the_calendar_break_nothing(bench: Client, firing: Firing, year: int) -> None:
    rows = [f"{year:04}-12-31 {22 + minute // 60}:{minute % 60:02}:00,{20 + minute}" for minute in range(119)]
    for stamped in (rows, [row.replace("-12-31", "-01-01").replace(" 2", " 0") for row in rows]):
        assert send(bench, firing, file("\n".join(["time,°C", *stamped]).encode())).status_code in (302, 422)
        assert bench.get(f"/firings/{firing.pk}/").status_code == 200


def test_a_new_file_takes_the_place_of_the_old_one_and_it_can_be_taken_out(
    bench: Client, firing: Firing
) -> None:
    send(bench, firing)
    send(bench, firing, file(name="again\u202e\n" + "x" * 200 + ".csv"))
    log = KilnLog.objects.get()
    assert len(log.name) == 120 and log.name.isprintable()
    bench.post(f"/kiln-logs/{firing.pk}/remove/")
    assert not KilnLog.objects.exists()
    assert bench.post(f"/kiln-logs/{firing.pk}/remove/").status_code == 404
    send(bench, firing)
    bench.post(f"/firings/{firing.pk}/remove/")
    assert not KilnLog.objects.exists()


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"\0\1\2" * 50, kiln_log.NO_TEXT),
        (b"x" * 5_000_001, kiln_log.TOO_LARGE),
        (b"=1+1,=2\n" * 30, kiln_log.NO_READINGS),
        (b"0,NaN\n1,1e999\n" * 30, kiln_log.NO_READINGS),
        (b"<svg/>", kiln_log.NO_READINGS),
    ],
)
def test_a_hostile_file_is_met_with_a_sentence_and_changes_nothing(
    bench: Client, firing: Firing, content: bytes, sentence: str
) -> None:
    answer = send(bench, firing, file(content), unit="F")
    assert answer.status_code == 422
    page = unescape(text_of(answer))
    assert sentence in page and 'value="F" selected' in page
    assert not KilnLog.objects.exists()


def test_no_file_an_empty_one_and_a_choice_that_is_none_are_said(bench: Client, firing: Firing) -> None:
    for changes, sentence in (
        ({"file": ""}, "Choose a file."),
        ({"file": file(b"")}, "This file is empty."),
        ({"unit": "K"}, "Choose one that is in the list."),
    ):
        answer = bench.post(
            f"/kiln-logs/{firing.pk}/", {**once(), "unit": "", "time_unit": "", "file": file(), **changes}
        )
        assert answer.status_code == 422 and sentence in text_of(answer)


def test_fifty_thousand_lines_are_kept_and_drawn_in_under_two_seconds(bench: Client, firing: Firing) -> None:
    content = write_file(fire(Random(4), every=0.012)[:50_000])
    assert content.count(b"\n") == 50_001
    begin = process_time()
    send(bench, firing, file(content))
    page = bench.get(f"/firings/{firing.pk}/")
    assert process_time() - begin < 2
    assert b"<polyline" in page.content and KilnLog.objects.get().readings == 50_000


def test_the_next_timetable_is_closer_to_the_log_than_the_guess_was(firing: Firing) -> None:
    schedule, practice = Schedule.objects.get(), current_practice()
    coming = day_for(schedule, firing.kiln)
    guessed = schedule_steps(schedule, practice, firing.kiln)
    assert guessed == schedule_steps(schedule, practice)
    keep(firing, **QUICK)
    learnt = schedule_steps(schedule, current_practice(), firing.kiln)
    assert planned_minutes(coming) == count_minutes(learnt, practice.room_c)
    coming.refresh_from_db()
    assert coming.revision == 1  # the calendars of days to come take the new times in
    # The same kiln fired once more, with another noise: when it really came to each hold.
    real = KilnLog.objects.get(firing=keep_next(firing)).figures["holds"]

    def distance(steps: object) -> int:
        holds = [one for one in lay_out(steps, practice.room_c) if one.is_hold]
        return sum(abs(one.start_minute - found["reached"]) for one, found in zip(holds, real, strict=True))

    assert distance(learnt) < 30 < 60 < distance(guessed)
    assert [one.minutes for one in lay_out(learnt) if one.is_hold] == [hold for _, hold in TURNS]


def keep_next(firing: Firing) -> Firing:
    later = Firing.objects.create(kiln=firing.kiln, day=firing.day + timedelta(days=1), minutes=700)
    day_for(Schedule.objects.get(), firing.kiln, firing=later)
    keep(later, seed=9, **QUICK)
    return later


def test_the_latest_firings_of_each_kiln_count_and_the_figure_says_of_how_many(firing: Firing) -> None:
    log = keep(firing)
    day = firing.day
    other = Equipment.objects.create(kind="kiln", name="The small one")
    Firing.objects.bulk_create(
        Firing(kiln=kiln, day=day + timedelta(days=number), minutes=600)
        for number in range(1, LATEST + 3)
        for kiln in (firing.kiln, other)
    )
    KilnLog.objects.bulk_create(
        KilnLog(
            firing=later,
            kiln=later.kiln,
            name="copy",
            how="",
            readings=1,
            points=[],
            figures=log.figures,
            # The other kiln takes twice as long for everything.
            rates={
                way: [
                    [low, high, second * (1 if later.kiln == firing.kiln else 2)]
                    for low, high, second in rows
                ]
                for way, rows in log.rates.items()
            },
            taken_in_at=log.taken_in_at,
        )
        for later in Firing.objects.exclude(pk=firing.pk).select_related("kiln")
    )
    practice = current_practice()
    own, slow = (curves_of(kiln, practice).climb for kiln in (firing.kiln, other))
    assert own and slow and own.firings == slow.firings == LATEST
    assert slow.minutes(20, 700) == pytest.approx(2 * own.minutes(20, 700), rel=0.03)


def test_a_firing_that_was_of_another_kiln_teaches_that_one(bench: Client, firing: Firing) -> None:
    keep(firing)
    other = Equipment.objects.create(kind="kiln", name="The small one")
    typed = {"kiln": other.pk, "day": str(firing.day), "minutes": "12 h"}
    assert bench.post(f"/firings/{firing.pk}/edit/", typed).status_code == 302
    practice = current_practice()
    assert curves_of(other, practice).climb and not curves_of(firing.kiln, practice).climb


def test_a_kiln_with_a_program_teaches_nothing_where_it_kept_up(firing: Firing) -> None:
    firing.kiln.has_program = True
    firing.kiln.save()
    keep(firing)  # its schedule asks for all that the kiln can
    assert curves_of(firing.kiln, current_practice()).climb
    remove_log(KilnLog.objects.get())
    ScheduleStep.objects.filter(schedule=Schedule.objects.get()).update(climb_c_per_hour=200)
    keep(firing)
    curves = curves_of(firing.kiln, current_practice())
    # At 200 degrees an hour it kept up as far as it could: above that, and on the way down, it could not.
    assert curves.fall and (not curves.climb or curves.climb.least_c > 300)
    CastingDay.objects.all().delete()
    assert keep(firing).rates == {"climbs": [], "falls": []}


def test_a_firing_without_a_casting_day_shows_its_own_levels(bench: Client, firing: Firing) -> None:
    CastingDay.objects.all().delete()
    send(bench, firing)
    page = text_of(bench.get(f"/firings/{firing.pk}/"))
    assert "the levels at which the kiln stood" in page and lines(page) == ["pieces"]
