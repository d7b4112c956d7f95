"""What a document leaves to be filled in by hand: boxes to tick, room for a weight, lines; and words of care."""

import io

import pytest
from django.template.loader import render_to_string
from pypdf import PdfReader

from studio.kit.cautions import CAUTIONS
from studio.kit.documents import Care, Column, NoteLines, Table
from studio.kit.pdf import render_pdf
from studio.kit.report_page import lay_document
from studio.kit.reporting import write_document_csv
from tests.kit.reports import make_document

LIST = Table(
    "Before the pour",
    (Column("what", "What"), Column("done", "Done", "box"), Column("weighed", "Weighed", "blank")),
    [("Face shield on", None, None), ("No flux", "no", None)],
    totals=("Together", None, None),
)


def read_paper(document):
    return PdfReader(io.BytesIO(render_pdf(document)))


def show(*blocks):
    return render_to_string("kit/report.html", {"blocks": lay_document(make_document(*blocks))})


def test_paper_has_a_box_where_nothing_is_said_and_none_in_the_totals():
    drawn = read_paper(make_document(LIST)).pages[0].get_contents().get_data()
    assert drawn.count(b" re") == 1


def test_a_row_of_several_lines_has_one_box_at_its_first():
    rows = [("Look at everything " * 20, None, None)]
    wrapped = Table(LIST.caption, LIST.columns, rows)
    assert read_paper(make_document(wrapped)).pages[0].get_contents().get_data().count(b" re") == 1


def test_a_page_marks_the_cells_for_its_look():
    shown = show(LIST)
    assert '<td class="by-hand-box">' in shown
    assert "by-hand-blank" in shown


def test_a_file_keeps_the_columns_to_fill_in():
    assert write_document_csv(make_document(LIST)).decode("utf-8-sig").splitlines()[:2] == [
        "What,Done,Weighed",
        "Face shield on,,",
    ]


@pytest.mark.parametrize("kind", CAUTIONS)
def test_words_of_care_stand_whole_on_page_and_paper(kind):
    paper = " ".join(read_paper(make_document(Care(kind))).pages[0].extract_text().split())
    assert CAUTIONS[kind].title.split()[0] in paper
    assert CAUTIONS[kind].ending.split()[-1] in paper
    assert CAUTIONS[kind].title in show(Care(kind))


def test_lines_for_notes_end_with_the_sheet():
    assert len(read_paper(make_document(NoteLines("Notes", 200))).pages) == 1
    assert show(NoteLines("Notes", 3)).count("<div aria-hidden") == 3
