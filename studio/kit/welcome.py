"""The key to the first page of an empty studio: only someone who can read the start-up message has it."""

from django.utils.crypto import constant_time_compare, salted_hmac

KEY_LENGTH = 24


def welcome_key() -> str:
    """The key that `python -m studio.serve` prints while the studio has no user."""
    return salted_hmac("studio.kit.welcome", "first user", algorithm="sha256").hexdigest()[:KEY_LENGTH]


def check_welcome_key(text: str) -> bool:
    """Whether the text is the key; it takes as long for a wrong key as for the right one."""
    return constant_time_compare(text, welcome_key())
