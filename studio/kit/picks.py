"""A choice among records that were read once: many lines of a form ask the database no more than one."""

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.utils import flatatt
from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString


@dataclass
class Options:
    """Records to choose from, each under a key, in groups as a person reads them; the group "" has no heading."""

    empty: str = "Choose"
    records: dict[str, Any] = field(default_factory=dict)
    groups: dict[str, list[tuple[str, str]]] = field(default_factory=dict)

    def add(self, key: str, label: str, record: Any, group: str = "") -> None:
        self.records[key] = record
        self.groups.setdefault(group, []).append((key, label))

    def without(self, key: str) -> "Options":
        """The same options but one."""
        records = {other: record for other, record in self.records.items() if other != key}
        groups = {name: [pair for pair in pairs if pair[0] != key] for name, pairs in self.groups.items()}
        return Options(self.empty, records, groups)

    def write(self, selected: str) -> SafeString:
        """The option elements, with one of them selected."""
        written = [_write_options([("", self.empty)], selected)]
        for group, pairs in self.groups.items():
            inside = _write_options(pairs, selected)
            written.append(
                format_html('<optgroup label="{}">{}</optgroup>', group, inside) if group else inside
            )
        return format_html_join("", "{}", ((part,) for part in written))

    def key_of(self, record: Any) -> str:
        return next((key for key, one in self.records.items() if one == record), "")


def _write_options(pairs: Iterable[tuple[str, str]], selected: str) -> SafeString:
    chosen = SafeString(" selected")
    rows = ((key, chosen if key == selected else "", label) for key, label in pairs)
    return format_html_join("", '<option value="{}"{}>{}</option>', rows)


class PickSelect(forms.Select):
    """Writes its options straight: Django's own way takes two templates for each, and a page has hundreds."""

    offered = Options()

    def render(self, name: str, value: Any, attrs: Any = None, renderer: Any = None) -> SafeString:
        selected = next(iter(self.format_value(value)), "")
        attributes = flatatt(self.build_attrs(self.attrs, attrs))
        return format_html(
            '<select name="{}"{}>{}</select>', name, attributes, self.offered.write(str(selected or ""))
        )


class PickField(forms.Field):
    """One of some records, or None. Call `offer` in the form's __init__: each form has options of its own."""

    widget = PickSelect
    default_error_messages = {"required": "Choose one.", "invalid_choice": "Choose one that is in the list."}

    def __init__(self, **kwargs: Any) -> None:
        super().__init__(**kwargs)
        self.options = Options()

    def offer(self, options: Options) -> None:
        self.options = options
        self.widget.offered = options

    def to_python(self, value: Any) -> Any:
        if value in self.empty_values:
            return None
        try:
            return self.options.records[str(value)]
        except KeyError:
            raise ValidationError(self.error_messages["invalid_choice"], code="invalid_choice") from None

    def prepare_value(self, value: Any) -> Any:
        return value if value is None or isinstance(value, str) else self.options.key_of(value)
