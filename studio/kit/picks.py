"""A choice among records that were read once: many lines of a form ask the database no more than one."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.forms.utils import flatatt
from django.utils.html import escape, format_html
from django.utils.safestring import SafeString

Choice = tuple[str, Any]


@dataclass
class Options:
    """Records to choose from, each under a key, in groups as a person reads them; the group "" has no heading."""

    empty: str = "Choose"
    records: dict[str, Any] = field(default_factory=dict)
    groups: dict[str, list[Choice]] = field(default_factory=dict)

    def add(self, key: str, label: str, record: Any, group: str = "") -> None:
        self.records[key] = record
        self.groups.setdefault(group, []).append((key, label))

    def without(self, key: str) -> "Options":
        """The same options but one."""
        records = {other: record for other, record in self.records.items() if other != key}
        groups = {name: [pair for pair in pairs if pair[0] != key] for name, pairs in self.groups.items()}
        return Options(self.empty, records, groups)

    def choices(self) -> list[Choice]:
        """The choices as Django groups them."""
        offered: list[Choice] = [("", self.empty)]
        for group, pairs in self.groups.items():
            offered += [(group, pairs)] if group else pairs
        return offered


class PickSelect(forms.Select):
    """Writes its options straight: Django's own way takes two templates for each, and a page has hundreds."""

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        selected = str(next(iter(self.format_value(value)), ""))
        attributes = flatatt(self.build_attrs(self.attrs, attrs))
        return format_html(
            '<select name="{}"{}>{}</select>', name, attributes, _write(self.choices, selected)
        )


def _write(choices: Iterable[Choice], selected: str) -> SafeString:
    written: list[str] = []
    for key, label in choices:
        if isinstance(label, list):
            group = _write(label, selected)
            written.append(format_html('<optgroup label="{}">{}</optgroup>', key, group))
        else:
            mark = " selected" if key == selected else ""
            written.append(f'<option value="{escape(key)}"{mark}>{escape(label)}</option>')
    return SafeString("".join(written))


class PickField(forms.TypedChoiceField):
    """One of some records, or None. Call `offer` in the form's __init__: each form has options of its own."""

    widget = PickSelect

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(empty_value=None, **kwargs)
        self.options = Options()

    def offer(self, options: Options) -> None:
        self.options, self.choices, self.coerce = options, options.choices(), options.records.__getitem__

    def prepare_value(self, value: Any) -> Any:
        if value is None or isinstance(value, str):
            return value
        return next((key for key, one in self.options.records.items() if one == value), "")
