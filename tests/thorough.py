"""How much a test tries: little each time, for the same examples come again; STUDIO_THOROUGH=10 tries ten times it."""

import os

TIMES = int(os.environ.get("STUDIO_THOROUGH", "1"))
#: On the second database the same examples come again, of which a third is enough.
ON_SECOND = os.environ.get("DATABASE_URL", "").startswith("postgres")


def examples(few: int) -> int:
    """How many examples to try, where so few are tried each time."""
    return -(-few // 3) if ON_SECOND and TIMES == 1 else few * TIMES
