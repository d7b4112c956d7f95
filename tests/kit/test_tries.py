"""The pause after wrong passwords when many ask at once."""

from tests.databases import run_python

MANY_AT_ONCE = """
from concurrent.futures import ThreadPoolExecutor
from django.db import connection
from studio.kit.tries import take_try

def ask(_number):
    try:
        return take_try("sign-in", "192.0.2.7", "mira")
    finally:
        connection.close()

with ThreadPoolExecutor(8) as threads:
    print(sum(threads.map(ask, range(24))))
"""


def test_many_at_once_get_no_more_tries_than_one_after_the_other(real_database: str) -> None:
    assert run_python(real_database, MANY_AT_ONCE).strip() == "10"
