"""Repeated lines: another line keeps what was typed, empty lines do not count, mistakes stand beside their field."""

import re

from django import forms
from django.http import QueryDict

from studio.kit.fields import LineField, MassField
from studio.kit.rows import (
    ADD_LINE,
    IN_PLACE,
    MOST_ROWS,
    RowForm,
    RowsFormSet,
    answer_in_place,
    asks_for_row,
    hold_judgement,
    make_rows,
)


class PortionForm(RowForm):
    given = ("kind",)

    label = LineField(label="What")
    mass = MassField(label="Mass")
    kind = forms.ChoiceField(label="Kind", choices=[("fresh", "fresh"), ("back", "back")], initial="fresh")


Portions = make_rows(PortionForm, empty=2, least=1, nothing_written="Write at least one portion.")


def post(*rows: dict[str, str], **others: str) -> RowsFormSet:
    data = QueryDict(mutable=True)
    data["rows-TOTAL_FORMS"], data["rows-INITIAL_FORMS"] = str(len(rows)), "0"
    for number, row in enumerate(rows):
        for name, text in row.items():
            data[f"rows-{number}-{name}"] = text
    data.update(others)
    return Portions(data, prefix="rows")


GRAIN = {"label": "grain", "mass": "12.4", "kind": "fresh"}
EMPTY = {"label": "", "mass": "", "kind": "fresh"}


def test_a_new_page_shows_its_empty_lines():
    html = str(Portions(prefix="rows"))
    assert "Line 2" in html and "Line 3" not in html
    assert 'name="add_line" value="rows"' in html


def test_written_lines_are_read():
    rows = post(GRAIN, {"label": "tin 2", "mass": "8 dwt", "kind": "back"})
    assert rows.is_valid()
    assert [(row["label"], row["mass"]) for row in rows.written()] == [("grain", 12_400), ("tin 2", 12_441)]


def test_empty_lines_do_not_count_even_with_their_usual_choice():
    rows = post(EMPTY, GRAIN, EMPTY)
    assert rows.is_valid()
    assert len(rows.written()) == 1


def test_a_suggested_line_counts_though_nobody_changed_it():
    rows = Portions(post(GRAIN).data, prefix="rows", initial=[{"label": "grain", "mass": 12_400}])
    assert rows.is_valid()
    assert len(rows.written()) == 1


def test_a_suggested_line_that_was_emptied_does_not_count():
    rows = Portions(post(EMPTY, GRAIN).data, prefix="rows", initial=[{"label": "grain", "mass": 12_400}])
    assert rows.is_valid()
    assert len(rows.written()) == 1


def test_no_line_at_all_is_refused_with_a_sentence():
    rows = post(EMPTY, EMPTY)
    assert not rows.is_valid()
    assert rows.non_form_errors() == ["Write at least one portion."]
    assert "Write at least one portion." in str(rows)


def test_a_mistake_stands_beside_its_field_and_the_typed_text_stays():
    rows = post(GRAIN, {"label": "tin 2", "mass": "3.1 oz", "kind": "back"})
    assert not rows.is_valid()
    assert list(rows.forms[1].errors) == ["mass"]
    html = str(rows)
    assert 'id="id_rows-1-mass_error"' in html and 'value="3.1 oz"' in html


def test_a_line_that_is_marked_is_left_out_with_its_mistakes():
    rows = post(GRAIN, {"label": "", "mass": "nonsense", "DELETE": "on"})
    assert rows.is_valid()
    assert len(rows.written()) == 1
    assert "errors" not in str(rows)


def test_another_line_keeps_all_that_was_typed_and_judges_nothing():
    rows = post(GRAIN, {"label": "", "mass": "3.1 oz"}, **{ADD_LINE: "rows"})
    assert asks_for_row(rows.data)
    hold_judgement(rows)
    html = str(rows)
    assert "Line 3" in html and 'value="3.1 oz"' in html and 'value="12.4"' in html
    assert "12.40" in html, "what was understood is still shown"
    assert "errors" not in html


def test_the_new_line_takes_the_cursor():
    rows = post(GRAIN, **{ADD_LINE: "rows"})
    hold_judgement(rows)
    assert "autofocus" in str(rows.forms[1]["label"])
    assert "autofocus" not in str(rows.forms[0]["label"])


def test_the_new_line_has_its_usual_answer():
    data = post(GRAIN).data
    data[ADD_LINE] = "rows"
    offered = make_rows(BackFirst)(data, prefix="rows")
    hold_judgement(offered)
    assert '<option value="back" selected>' in str(offered.forms[1]["kind"])


class BackFirst(PortionForm):
    kind = forms.ChoiceField(choices=[("fresh", "fresh"), ("back", "back")], initial="back")


def in_place(*rows: dict[str, str], **others: str) -> str:
    answer = answer_in_place(post(*rows, **{ADD_LINE: "rows", IN_PLACE: "1", **others}))
    return answer.content.decode() if answer is not None else "the whole page"


def test_in_place_the_new_line_comes_alone_with_the_new_count():
    html = in_place(GRAIN, {"label": "", "mass": "3.1 oz"})
    assert html.count("<fieldset") == 1 and "Line 3" in html and 'name="rows-2-label"' in html
    assert "3.1 oz" not in html and "errors" not in html
    assert 'name="rows-TOTAL_FORMS" value="3" id="id_rows-TOTAL_FORMS" hx-swap-oob="true"' in html
    assert "rows-more" not in html, "there is room for more"


def test_in_place_the_new_line_takes_the_cursor():
    assert re.findall(r'name="(rows-1-\w+)"[^>]*autofocus', in_place(GRAIN)) == ["rows-1-label"]


def test_in_place_the_last_line_takes_the_button_away():
    html = in_place(*[GRAIN] * (MOST_ROWS - 1))
    assert f"Line {MOST_ROWS}" in html and '<p id="rows-more" hx-swap-oob="delete">' in html


def test_in_place_no_line_comes_where_none_can_be():
    full = answer_in_place(post(*[GRAIN] * MOST_ROWS, **{ADD_LINE: "rows", IN_PLACE: "1"}))
    assert full is not None and (full.status_code, full.content) == (204, b"")


def test_in_place_is_only_for_pages_that_say_so():
    assert answer_in_place(post(GRAIN, **{ADD_LINE: "rows"})) is None
    assert answer_in_place(post(GRAIN, **{IN_PLACE: "1"}), Portions(prefix="rows")) is None


def test_another_line_of_another_set_adds_none_here():
    rows = post(GRAIN, **{ADD_LINE: "tree"})
    assert len(rows.forms) == 1 and asks_for_row(rows.data)


def test_a_page_holds_forty_lines():
    rows = post(*[GRAIN] * MOST_ROWS, **{ADD_LINE: "rows"})
    hold_judgement(rows)
    assert len(rows.forms) == MOST_ROWS
    assert 'name="add_line"' not in str(rows)


def test_more_lines_than_a_page_holds_are_refused():
    rows = post(GRAIN)
    data = rows.data.copy()
    data["rows-TOTAL_FORMS"] = "100000"
    rows = Portions(data, prefix="rows")
    assert not rows.is_valid()
    assert "40 lines at most" in rows.non_form_errors()[0]


def test_a_count_of_lines_that_is_no_number_is_refused_with_a_sentence():
    for count in ("", "many", "-1", "\u0663"):
        data = post(GRAIN, **{ADD_LINE: "rows"}).data.copy()
        data["rows-TOTAL_FORMS"] = count
        rows = Portions(data, prefix="rows")
        rows.is_valid()
        assert str(rows)


def test_a_refusal_is_shown_above_the_lines_or_at_a_field():
    rows = post(EMPTY, GRAIN)
    assert rows.is_valid()
    rows.refuse("Lot 3 holds less than that.")
    rows.refuse("Take less.", "mass", line=0)
    assert rows.non_form_errors() == ["Lot 3 holds less than that."]
    assert rows.forms[1].errors["mass"] == ["Take less."]
    assert not rows.is_valid()
