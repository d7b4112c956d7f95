"""The same second, on both databases: postings and whole requests that meet leave the books right."""

from pathlib import Path

from tests.databases import run_python


def race(database_url: str, what: str) -> str:
    return run_python(database_url, f"from tests.inventory.at_once import *; print({what})").strip()


def test_every_kind_meets_itself_and_its_reversal(real_database: str) -> None:
    assert race(real_database, "race_postings()") == "[]"


def test_forms_that_are_sent_at_once_are_posted_in_turn(real_database: str) -> None:
    assert race(real_database, "race_requests(rounds=2)") == "[]"


def test_a_mend_meets_plans_and_a_copy(real_database: str, tmp_path: Path) -> None:
    assert race(real_database, f"race_mends({str(tmp_path)!r})") == "[]"


def test_two_people_plan_for_one_kiln_and_one_flask(real_database: str) -> None:
    assert race(real_database, "race_plans()") == "[]"


def test_two_hands_on_one_casting_day(real_database: str) -> None:
    run = "from tests.inventory.at_once_day import *; print(race_days())"
    assert run_python(real_database, run).strip() == "[]"
