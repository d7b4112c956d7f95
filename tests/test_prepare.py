"""The demo load: whole or not at all, and never over somebody's work."""

from unittest.mock import patch

import pytest
from django.contrib.auth import get_user_model

from studio import prepare

pytestmark = pytest.mark.django_db


def hire_someone(name: str = "demo") -> None:
    get_user_model().objects.create_user(name)


def test_an_empty_studio_is_filled() -> None:
    with patch.object(prepare, "call_command", side_effect=lambda _command: hire_someone()):
        assert prepare.load_demo() is True
    assert get_user_model().objects.count() == 1


def test_a_studio_in_use_is_left_alone() -> None:
    hire_someone("somebody at work")
    with patch.object(prepare, "call_command") as command:
        assert prepare.load_demo() is False
    command.assert_not_called()


def test_a_load_that_was_stopped_leaves_nothing() -> None:
    def stop_half_way(_say: object) -> None:
        hire_someone()
        raise KeyboardInterrupt

    with patch("costing.management.commands.demo.Year") as year, pytest.raises(KeyboardInterrupt):
        year.return_value.work.side_effect = stop_half_way
        prepare.load_demo()
    assert not get_user_model().objects.exists()


def test_a_word_it_does_not_know_is_answered_with_its_use() -> None:
    with pytest.raises(SystemExit, match="Use: python -m studio.prepare"):
        prepare.main(["--everything"])
