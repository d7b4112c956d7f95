"""A page whose usual answers follow what was chosen: it begins anew, and what a person wrote stays."""

from typing import Any

from django.forms import BaseForm
from django.forms.formsets import TOTAL_FORM_COUNT
from django.http import QueryDict

from .sheet import Sheet


def write_over(data: QueryDict, before: Sheet, after: Sheet) -> QueryDict:
    """What was sent, with every answer that the page had given by itself replaced by that of the page as it is now.

    `before` and `after` are sheets as they are opened. Lines that somebody wrote in stay, however many are offered now.
    """
    offered, offers = _answers(before), _answers(after)
    merged = data.copy()
    for name in offered.keys() | offers.keys():
        if data.get(name, "") == offered.get(name, ""):
            merged[name] = offers.get(name, "")
    for rows in after.rows.values():
        name = rows.management_form.add_prefix(TOTAL_FORM_COUNT)
        sent = data.get(name, "")
        if sent.isdecimal() and len(sent) < 4:
            merged[name] = str(max(int(sent), rows.total_form_count()))
    return merged


def _answers(sheet: Sheet) -> dict[str, str]:
    """The text of each field of an opened page, by its name."""
    forms = [sheet.form, *(form for rows in sheet.rows.values() for form in rows.forms)]
    return {name: text for form in forms for name, text in _texts(form)}


def _texts(form: BaseForm) -> list[tuple[str, str]]:
    found = []
    for field in form:
        shown: Any = field.field.widget.format_value(field.value())
        text = next(iter(shown), "") if isinstance(shown, list) else shown
        if field.name not in ("once", "DELETE"):
            found.append((field.html_name, str(text or "")))
    return found
