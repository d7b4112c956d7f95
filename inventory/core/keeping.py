"""How long stock that does not keep is good for, and whether it may be used."""

from datetime import date, timedelta


def compute_use_by(received_on: date, shelf_life_days: int | None) -> date | None:
    """The last good day of what keeps so many days; None for what keeps."""
    return None if shelf_life_days is None else received_on + timedelta(days=shelf_life_days)


def compute_use_by_once_opened(
    use_by: date | None, opened_on: date, opened_life_days: int | None
) -> date | None:
    """An opened tub keeps its use-by, or the days it has once opened, whichever ends first."""
    if opened_life_days is None:
        return use_by
    opened_until = opened_on + timedelta(days=opened_life_days)
    return opened_until if use_by is None else min(use_by, opened_until)


def is_past_use_by(use_by: date | None, day: date) -> bool:
    """Stock is good through its last day and out of date after it."""
    return use_by is not None and use_by < day


def is_usable(use_by: date | None, is_damp: bool, day: date) -> bool:
    """Whether stock may go into a flask or a plan on a day: dry, and not past its last good day."""
    return not is_damp and not is_past_use_by(use_by, day)
