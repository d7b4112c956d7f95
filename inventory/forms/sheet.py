"""A page's form together with its sets of lines: checked, refused and shown as one."""

from collections.abc import Iterator, Mapping
from typing import Any

from inventory.posting.refusal import Refused
from studio.kit.doubts import SURE
from studio.kit.forms import list_mistakes, mend_first
from studio.kit.rows import RowsFormSet, asks_for_row, hold_judgement

from .work_day import doubt_days


class Sheet:
    """`form` and `rows` by name. `REFUSALS` leads the field that posting names to a field or set of lines here.

    Each form class has the one-time key, so that a sheet is posted once.
    """

    REFUSALS: Mapping[str, str] = {}
    #: The field of a line that a refusal stands beside when only one line was written.
    LINE_FIELDS: Mapping[str, str] = {
        "charge": "mass",
        "powder": "mass",
        "tree": "quantity",
        "pieces": "mass",
    }

    def __init__(self, form: Any, **rows: Any) -> None:
        #: The form class and the sets of lines each know more than their bases: posting asks them for records.
        self.form = form
        self.rows = rows
        #: Whether the page is shown as it was typed, without saying yet what is wrong.
        self.is_held = False
        #: What the posting refused, if it did.
        self.refused: Refused | None = None

    def __getitem__(self, name: str) -> Any:
        """A set of lines, or a field of the form, for a template."""
        return self.rows[name] if name in self.rows else self.form[name]

    @property
    def parts(self) -> list[Any]:
        return [self.form, *self.rows.values()]

    @property
    def asks_for_row(self) -> bool:
        return self.form.is_bound and asks_for_row(self.form.data)

    def hold_judgement(self) -> None:
        self.is_held = True
        hold_judgement(*self.parts)

    def is_valid(self) -> bool:
        # Every part is read before any is judged, so that each says what is wrong with it.
        verdicts = [part.is_valid() for part in self.parts]
        return all(verdicts)

    def has_doubts(self) -> bool:
        """Put what is out of the ordinary beside its field; whether any of it is still to be answered."""
        data = self.form.data
        ticks = data.getlist(SURE) if hasattr(data, "getlist") else ()
        is_open = False
        for form, name, sentence in self.doubts():
            is_open |= form.ask(name, sentence, ticks)
        return is_open

    def doubts(self) -> Iterator[tuple[Any, str, str]]:
        """(form or line, name of the field, sentence) of all that is out of the ordinary in what was found right."""
        for form in self.written_forms():
            for name, sentence in (form.doubts() | doubt_days(form)).items():
                yield form, name, sentence

    def written_forms(self) -> list[Any]:
        lines = [line for rows in self.rows.values() for line in rows.written_lines()]
        return [form for form in (self.form, *lines) if hasattr(form, "doubts")]

    def refuse(self, refused: Refused) -> None:
        """Put a refusal of the posting beside the field that it names, or above the form."""
        self.refused = refused
        name = self.REFUSALS.get(refused.field, refused.field)
        if name in self.rows:
            only_one = len(self.rows[name].written()) == 1 and name in self.LINE_FIELDS
            if only_one:
                self.rows[name].refuse(refused.sentence, self.LINE_FIELDS[name], line=0)
            else:
                self.rows[name].refuse(refused.sentence)
        else:
            self.form.add_error(name if name in self.form.fields else None, refused.sentence)

    @property
    def mistakes(self) -> list[dict[str, str]]:
        """Every mistake in the order of the parts: target (element id or ""), label, sentence. Else what is asked."""
        if not self.form.is_bound:
            return []
        found = list_mistakes(self.form)
        for rows in self.rows.values():
            found += _mistakes_in(rows)
        return mend_first(found)


def _mistakes_in(rows: RowsFormSet) -> Iterator[dict[str, str]]:
    for sentence in rows.non_form_errors():
        yield {"target": str(rows.prefix), "label": rows.row_word, "sentence": str(sentence)}
    for place, form in enumerate(rows.forms, start=1):
        for mistake in list_mistakes(form):
            label = f"{rows.row_word} {place}"
            mistake["label"] = f"{label}, {mistake['label'].lower()}" if mistake["label"] else label
            yield mistake
