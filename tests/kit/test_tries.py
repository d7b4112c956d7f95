"""The pause after wrong passwords when many ask at once."""

from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from studio.kit.tries import take_try
from tests.databases import standing_at


def ask(_number: int) -> bool:
    try:
        return take_try("sign-in", "192.0.2.7", "mira")
    finally:
        connection.close()


@pytest.mark.usefixtures("unblocked_database")
def test_many_at_once_get_no_more_tries_than_one_after_the_other(real_database: str) -> None:
    with standing_at(real_database), ThreadPoolExecutor(8) as threads:
        assert sum(threads.map(ask, range(24))) == 10
