"""A field for a date and time as the clock on the studio's wall shows them."""

from datetime import datetime
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.clock import find_moment

_FORMATS = ("%Y-%m-%dT%H:%M", "%Y-%m-%d %H:%M", "%d/%m/%Y %H:%M", "%Y-%m-%dT%H:%M:%S")
_SHOWN = "%Y-%m-%dT%H:%M"


class WallMomentField(forms.Field):
    """An aware moment, typed as a date and a time of the studio's clock.

    A time that the clocks leap over is refused with its sentence; of one that comes twice the first is taken.
    """

    default_error_messages = {
        "required": "Write a day and a time such as 25/11/2026 18:30.",
        "invalid": "This cannot be read. Write a day and a time such as 25/11/2026 18:30.",
    }

    def __init__(self, **kwargs: Any) -> None:
        kwargs.setdefault("widget", forms.DateTimeInput(format=_SHOWN, attrs={"type": "datetime-local"}))
        super().__init__(**kwargs)

    def to_python(self, value: Any) -> datetime | None:
        if value in self.empty_values:
            return None
        wall = value if isinstance(value, datetime) else _read_wall(str(value))
        if wall is None:
            raise ValidationError(self.error_messages["invalid"], code="invalid")
        if wall.tzinfo is not None:
            return wall
        found = find_moment(wall, timezone.get_current_timezone())
        if found.at is None:
            raise ValidationError(found.sentence, code="no_such_time")
        return found.at

    def prepare_value(self, value: Any) -> Any:
        """What was typed is shown the way the browser's own field takes it."""
        if isinstance(value, str):
            return wall.strftime(_SHOWN) if (wall := _read_wall(value)) else value
        if isinstance(value, datetime) and timezone.is_aware(value):
            return timezone.localtime(value).strftime(_SHOWN)
        return value


def _read_wall(text: str) -> datetime | None:
    line = " ".join(text.split())
    for form in _FORMATS:
        try:
            return datetime.strptime(line, form)
        except ValueError:
            continue
    return None
