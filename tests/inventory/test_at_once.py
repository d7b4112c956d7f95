"""The same second, on both databases: postings and whole requests that meet leave the books right."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from tests.databases import standing_at
from tests.inventory import at_once, at_once_day


@pytest.fixture(autouse=True)
def _own_database(real_database: str, unblocked_database: None) -> Iterator[None]:
    with standing_at(real_database):
        yield


def test_every_kind_meets_itself_and_its_reversal() -> None:
    assert at_once.race_postings() == []


def test_forms_that_are_sent_at_once_are_posted_in_turn() -> None:
    assert at_once.race_requests(rounds=2) == []


def test_a_mend_meets_plans_and_a_copy(tmp_path: Path) -> None:
    assert at_once.race_mends(tmp_path) == []


def test_two_people_plan_for_one_kiln_and_one_flask() -> None:
    assert at_once.race_plans() == []


def test_two_hands_on_one_casting_day() -> None:
    assert at_once_day.race_days() == []
