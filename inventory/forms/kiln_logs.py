"""The file of a thermocouple, sent in for a firing."""

from pathlib import PurePath
from threading import Lock
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils import timezone

from inventory.core.kiln_log import MOST_BYTES, MOST_LINES, TOO_LARGE, NotALog, ReadLog, read_log
from studio.kit.forms import OnceMixin, StudioForm

NAME_MOST = 120
# One at a time: many large ones at once could ask for more memory than there is.
_one_at_a_time = Lock()


class KilnLogForm(OnceMixin, StudioForm):
    """`log` is what was read of a file that was found right, `name` what it is called."""

    most_bytes = MOST_BYTES
    marks_optional = False
    log: ReadLog
    name: str

    file = forms.FileField(
        label="The thermocouple's file",
        help_text=(
            "CSV or text: a line for each reading, with its time and its temperature. Up to "
            f"{MOST_BYTES // 1_000_000} MB and {MOST_LINES:,} lines."
        ),
        widget=forms.FileInput(attrs={"accept": ".csv,.tsv,.txt,.log,text/csv,text/plain"}),
        error_messages={
            "required": "Choose a file.",
            "invalid": "Choose a file.",
            "missing": "Choose a file.",
            "empty": "This file is empty.",
        },
    )
    unit = forms.ChoiceField(
        label="Temperatures are in",
        choices=[("", "as the file says, else °C"), ("C", "°C"), ("F", "°F")],
        required=False,
    )
    time_unit = forms.ChoiceField(
        label="Plain numbers for times are",
        choices=[
            ("", "as the file says, or as they look"),
            ("s", "seconds"),
            ("min", "minutes"),
            ("h", "hours"),
        ],
        required=False,
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        file = cleaned.get("file")
        if file is None or {"unit", "time_unit"} & set(self.errors):
            return cleaned
        try:
            with _one_at_a_time:
                self.log = self._read(file, cleaned)
        except NotALog as refused:
            self.add_error("file", ValidationError(str(refused)))
        name = "".join(letter for letter in PurePath(file.name).name if letter.isprintable())
        self.name = name[-NAME_MOST:] or "log"
        return cleaned

    def _read(self, file: Any, cleaned: dict[str, Any]) -> ReadLog:
        if file.size > MOST_BYTES:
            raise NotALog(TOO_LARGE)
        zone = timezone.get_current_timezone()
        return read_log(file.read(), zone, cleaned.get("unit") or "", cleaned.get("time_unit") or "")
