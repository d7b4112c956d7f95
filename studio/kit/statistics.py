"""What SQLite's planner should know of the tables: it gathers nothing by itself, as PostgreSQL does.

Without this it takes every condition for equally narrow, and reads thousands of rows where an index leads to ten.
"""

from typing import Any

from django.db import connection, transaction

# A value in a unique column is found in one row. ANALYZE counts rows without a value as one value that fills most
# of the table, so where few have one (an entry that was reversed, say) it would call the index useless.
_UNIQUE_FINDS_ONE = """
UPDATE sqlite_stat1 SET stat = substr(stat, 1, instr(stat, ' ')) || '1'
WHERE idx LIKE 'sqlite_autoindex%' AND stat NOT LIKE '% % %'
"""


def gather_statistics(**kwargs: Any) -> None:
    """Count the tables anew: after every migrate, so at each start, and when somebody signs in.

    It reads the indexes once, a fifth of a second for fifty years of books. A receiver of signals, whose names it
    does not need.
    """
    if connection.vendor == "sqlite":
        with transaction.atomic(), connection.cursor() as cursor:
            cursor.execute("ANALYZE")
            cursor.execute(_UNIQUE_FINDS_ONE)
            cursor.execute("ANALYZE sqlite_schema")  # this connection takes up what the update changed
