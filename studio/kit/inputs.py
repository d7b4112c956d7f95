"""Inputs and choices written straight: Django takes three templates for each field and two for each choice."""

from collections.abc import Callable, Mapping
from typing import Any

from django.utils.html import conditional_escape, format_html
from django.utils.safestring import SafeString

Widget = Mapping[str, Any]
"""What Django gives a widget's template."""


def write_input(widget: Widget) -> SafeString:
    value = "" if widget["value"] is None else format_html(' value="{}"', widget["value"])
    return format_html(
        '<input type="{}" name="{}"{}{}>', widget["type"], widget["name"], value, _write_attrs(widget)
    )


def write_select(widget: Widget) -> SafeString:
    written = []
    for group, options, _ in widget["optgroups"]:
        chosen = "".join(f"\n  {_write_option(option)}\n" for option in options)
        if group:
            chosen = f'\n  <optgroup label="{conditional_escape(group)}">{chosen}\n  </optgroup>'
        written.append(chosen)
    return format_html(
        '<select name="{}"{}>{}\n</select>',
        widget["name"],
        _write_attrs(widget),
        SafeString("".join(written)),
    )


def _write_option(option: Widget) -> str:
    value, label = conditional_escape(option["value"]), conditional_escape(option["label"])
    return f'<option value="{value}"{_write_attrs(option)}>{label}</option>'


def _write_attrs(widget: Widget) -> SafeString:
    """In their order; one that is true stands alone, one that is false nowhere."""
    written = (
        f" {conditional_escape(name)}" + ("" if value is True else f'="{conditional_escape(value)}"')
        for name, value in widget["attrs"].items()
        if value is not False
    )
    return SafeString("".join(written))


_PLAIN = ("text", "number", "hidden", "email", "password", "search", "date", "time", "datetime", "checkbox")
#: How a template of Django's is written instead.
WRITTEN: dict[str, Callable[[Widget], SafeString]] = {
    **{f"django/forms/widgets/{name}.html": write_input for name in _PLAIN},
    "django/forms/widgets/select.html": write_select,
}
