"""Repeated lines on a form: what came in a delivery, the portions of a charge, the castings on a scale.

A page holds one or more sets of lines. "Add another line" is a button of the same form: htmx sends what is typed
and puts the one line that comes back below the others. Without a script the page comes back with all that was
typed and one more empty line. Nothing is saved either way.

    LinesFormSet = make_rows(LineForm, least=1, nothing_written="Write at least one line.")

    form, lines = DeliveryForm(request.POST), LinesFormSet(request.POST, prefix="lines")
    in_place = answer_in_place(lines)
    if in_place is not None:
        return in_place
    if asks_for_row(request.POST):
        hold_judgement(form, lines)
    elif form.is_valid() and lines.is_valid():
        ... lines.written() ...
"""

from collections.abc import Mapping
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.forms.boundfield import BoundField
from django.forms.formsets import (
    DELETION_FIELD_NAME,
    TOTAL_FORM_COUNT,
    BaseFormSet,
    formset_factory,
)
from django.forms.utils import ErrorDict, ErrorList
from django.http import HttpResponse
from django.utils.safestring import SafeString

from studio.kit.forms import STALE_PAGE, KitRenderer, StudioForm

ADD_LINE = "add_line"
IN_PLACE = "in_place"
MOST_ROWS = 40


class RowForm(StudioForm):
    """One line. It counts as written when any of its fields holds something.

    `given` names fields that come filled in (a choice with a usual answer): alone they do not make a line.
    `seldom` names fields that are folded away until they are wanted.
    """

    given: tuple[str, ...] = ()
    seldom: tuple[str, ...] = ()

    def has_changed(self) -> bool:
        """Whether anything is written in the line, also when the page itself had suggested it."""
        if not self.is_bound:
            return False
        passed_over = {DELETION_FIELD_NAME, *self.given}
        return any(_is_written(self[name]) for name in self.fields if name not in passed_over)

    @property
    def is_removed(self) -> bool:
        """Whether the line carries the mark that takes it out."""
        return DELETION_FIELD_NAME in self.fields and _is_written(self[DELETION_FIELD_NAME])

    def full_clean(self) -> None:
        super().full_clean()
        if self.is_bound and self.is_removed:
            # What is wrong in a line that is taken out need not be mended.
            self._errors = ErrorDict()

    @property
    def shown_fields(self) -> list[BoundField]:
        """The visible fields without the mark that takes the line out, and without what is folded away."""
        passed_over = (DELETION_FIELD_NAME, *self.seldom)
        return [field for field in self.visible_fields() if field.name not in passed_over]

    @property
    def folded_fields(self) -> list[BoundField]:
        return [self[name] for name in self.seldom]

    @property
    def fold_label(self) -> str:
        """What is folded away, in a word for each."""
        first, *others = [str(field.label) for field in self.folded_fields]
        return ", ".join([first, *(other[:1].lower() + other[1:] for other in others)])

    @property
    def opens_fold(self) -> bool:
        """Whether something stands in what is folded away, or is wrong with it."""
        return any(field.value() or field.errors for field in self.folded_fields)

    @property
    def remove_field(self) -> BoundField:
        return self[DELETION_FIELD_NAME]


class RowsFormSet(BaseFormSet):
    """Lines of one kind. Make a subclass with `make_rows`; shown by `{{ lines }}` within the page's form."""

    template_name = "kit/rows.html"
    new_row_template = "kit/row_new.html"
    row_word = "Line"
    add_label = "Add another line"
    remove_label = "Leave this line out"
    #: How many written lines are asked for, and what to say when there are fewer.
    least = 0
    nothing_written = "Write at least one line."

    default_error_messages = {"missing_management_form": STALE_PAGE}

    def __init__(self, data: Mapping[str, Any] | None = None, *args: Any, **kwargs: Any) -> None:
        full = (
            f"A page holds {self.absolute_max} lines at most: save these and write the rest on another page."
        )
        super().__init__(data, *args, **{"error_messages": {"too_many_forms": full}, **kwargs})
        self.asks_for_row = self.is_bound and self.data.get(ADD_LINE) == self.prefix
        self.has_new_row = False
        if self.asks_for_row:
            more = _with_one_more(self.data, f"{self.prefix}-{TOTAL_FORM_COUNT}", self.absolute_max)
            self.has_new_row, self.data = more is not self.data, more

    def _construct_form(self, i: int, **kwargs: Any) -> Any:
        kwargs["empty_permitted"] = True
        is_new = self.has_new_row and i == self.total_form_count() - 1
        if is_new:
            # Nothing was sent for it yet: unbound, it shows its usual answers as a line of a fresh page does.
            kwargs |= {"data": None, "files": None, "initial": None}
        form = super()._construct_form(i, **kwargs)  # type: ignore[misc]  # the stubs do not know it
        if is_new:
            form.cleaned_data = {}
            if form.shown_fields:
                form.shown_fields[0].field.widget.attrs["autofocus"] = True
        return form

    def render_new_row(self) -> SafeString:
        """The line that was asked for by itself, and the new count of lines, as htmx puts them into the page."""
        context = {**self.get_context(), "form": self.forms[-1], "number": len(self.forms)}
        return self.render(self.new_row_template, context)

    def add_fields(self, form: forms.Form, index: int | None) -> None:
        super().add_fields(form, index)
        form.fields[DELETION_FIELD_NAME].label = self.remove_label

    def clean(self) -> None:
        if len(self.written_lines()) < self.least:
            raise ValidationError(self.nothing_written, code="too_few")

    def written(self) -> list[dict[str, Any]]:
        """The cleaned data of every line that counts, in the order of the page. Of valid lines only."""
        return [form.cleaned_data for form in self.written_lines()]

    def written_lines(self) -> list[Any]:
        """The forms of the lines that count, in the order of the page."""
        return [form for form in self.forms if form.has_changed() and not form.is_removed]

    def refuse(self, sentence: str, field: str = "", line: int | None = None) -> None:
        """Show a refusal above the lines, or beside a field of the written line number `line` (from 0)."""
        if line is None:
            self.non_form_errors().append(sentence)
        else:
            self.written_lines()[line].add_error(field or None, sentence)

    @property
    def can_have_more(self) -> bool:
        return self.total_form_count() < self.absolute_max


def make_rows(
    form: type[RowForm],
    base: type[RowsFormSet] = RowsFormSet,
    empty: int = 1,
    most: int = MOST_ROWS,
    **words: Any,
) -> type[RowsFormSet]:
    """A set of lines of `form`, with `empty` empty ones at the start and `most` of them on a page.

    `words` are attributes of RowsFormSet: row_word, add_label, remove_label, least, nothing_written.
    """
    made: Any = formset_factory(
        form,
        formset=type(base.__name__, (base,), words),
        extra=empty,
        can_delete=True,
        max_num=most,
        absolute_max=most,
        validate_max=True,
        renderer=KitRenderer(),
    )
    return made


def asks_for_row(data: Mapping[str, Any]) -> bool:
    """Whether "Add another line" was pressed, for any set of lines on the page."""
    return ADD_LINE in data


def answer_in_place(*sets: RowsFormSet) -> HttpResponse | None:
    """The line that one of the sets was asked for, where the page puts it in place itself; else None.

    A set that is full answers with nothing, and the page stays as it is.
    """
    asked = next((rows for rows in sets if rows.asks_for_row and IN_PLACE in rows.data), None)
    if asked is None:
        return None
    return HttpResponse(asked.render_new_row()) if asked.has_new_row else HttpResponse(status=204)


def hold_judgement(*parts: Any) -> None:
    """Show what forms and sets of lines were typed, and understood, without saying yet what is wrong or missing."""
    for part in parts:
        if not isinstance(part, RowsFormSet):
            part.full_clean()
            part._errors = ErrorDict()
        elif part.management_form.is_valid():
            hold_judgement(*part.forms)
            silent: Any = part
            silent._errors, silent._non_form_errors = [], ErrorList()


def _with_one_more(data: Mapping[str, Any], name: str, most: int) -> Any:
    count = data.get(name, "")
    if not (count.isascii() and count.isdigit() and len(count) < 4 and int(count) < most):
        return data
    more = data.copy()  # type: ignore[attr-defined]  # a QueryDict, where lines are added
    more[name] = str(int(count) + 1)
    return more


def _is_written(field: BoundField) -> bool:
    typed = field.data
    return bool(typed.strip()) if isinstance(typed, str) else bool(typed)
