"""How much a test tries: little each time, for the same examples come again; STUDIO_THOROUGH=10 tries ten times it."""

import os

TIMES = int(os.environ.get("STUDIO_THOROUGH", "1"))


def examples(few: int) -> int:
    """How many examples to try of those that are tried each time."""
    return few * TIMES
