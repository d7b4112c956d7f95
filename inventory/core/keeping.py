"""How long stock that does not keep is good for."""

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
