import io
import threading
import time
from datetime import date, timedelta

import pytest
from reportlab.lib.pagesizes import A4
from reportlab.pdfgen.canvas import Canvas

from studio.kit.documents import Column, Facts, Heading, Prose, Table, WorkingBlock, print_cell
from studio.kit.fonts import REGULAR
from studio.kit.pdf import render_pdf
from studio.kit.pdf_columns import fit_columns, needs_landscape, read_cells
from studio.kit.pdf_sheet import Sheet
from studio.kit.pdf_table import lay_table
from tests.kit.reports import METAL, PIECES, make_document, make_full_document

pypdf = pytest.importorskip("pypdf")
pdfium = pytest.importorskip("pypdfium2")

ENDLESS = "Feingussformeinbettmassenlieferantengesellschaft" * 3
A4_UPRIGHT = 499.0
# Points by which a slanted letter may lean over the next.
SLANT = 0.8


def read_pages(content):
    reader = pypdf.PdfReader(io.BytesIO(content))
    return [" ".join(page.extract_text().split()) for page in reader.pages]


def long_table(rows=200):
    columns = (Column("day", "Day", "day"), Column("what", "What moved"), Column("mass", "Mass", "mass"))
    moved = tuple((date(2026, 1, 1) + timedelta(n), f"Button {n}", n * 10) for n in range(rows))
    return Table("All that moved", columns, moved, ("Total", None, 12_340))


def wide_table(columns):
    kinds = tuple(Column(f"m{n}", f"Month {n}", "mass") for n in range(columns - 1))
    return Table(
        "Every month",
        (Column("name", "Name"), *kinds),
        (("Grain", *range(100_000, 99_990 + 10 * columns, 10)),),
    )


def lay(table, is_landscape=False):
    sheet = Sheet(is_landscape)
    return sheet.paint(make_document(), lay_table(sheet, table.caption, read_cells(table)))


def read_letters(content):
    """For each page, each letter with the left, bottom, right and top of the room it takes."""
    with pdfium.PdfDocument(content) as file:
        for page in file:
            text = page.get_textpage()
            codes = [pdfium.raw.FPDFText_GetUnicode(text, nth) for nth in range(text.count_chars())]
            yield [
                (chr(code), text.get_charbox(nth, loose=True))
                for nth, code in enumerate(codes)
                if not chr(code).isspace()
            ]


def is_of_edge(box, sheet):
    """Whether a letter belongs to the words above or below every page."""
    return box[1] > sheet.top + 5 or box[3] < sheet.bottom - 10


def body_text(content):
    letters = (one for page in read_letters(content) for one in page)
    return "".join(letter for letter, box in letters if not is_of_edge(box, Sheet()))


def faults(content, is_landscape=False):
    """Letters that leave the printable sheet or run into each other."""
    sheet, found = Sheet(is_landscape), []
    for letters in read_letters(content):
        near = []
        for letter, box in sorted(letters, key=lambda one: one[1][0]):
            outside = box[0] < sheet.left - 0.5 or box[2] > sheet.left + sheet.width + 0.5
            low, high = box[1] < sheet.bottom - 3, box[3] > sheet.top + 1
            if outside or (low or high) and not is_of_edge(box, sheet):
                found.append(letter)
            near = [one for one in near if one[1][2] > box[0] + SLANT]
            found += [(letter, other) for other, b in near if b[1] < box[3] - 0.1 and box[1] < b[3] - 0.1]
            near.append((letter, box))
    return found


# The file


def test_the_same_report_is_the_same_file():
    assert render_pdf(make_full_document()) == render_pdf(make_full_document())


def test_two_people_asking_at_once_get_the_same_file():
    files = []
    ask = [threading.Thread(target=lambda: files.append(render_pdf(make_full_document()))) for _ in range(4)]
    for thread in ask:
        thread.start()
    for thread in ask:
        thread.join()
    assert len(files) == 4
    assert len(set(files)) == 1


def test_the_file_says_its_title_studio_and_language():
    reader = pypdf.PdfReader(io.BytesIO(render_pdf(make_full_document())))
    assert reader.metadata.title == "Cost of cast 40"
    assert reader.metadata.author == "Alder Yard studio"
    assert reader.trailer["/Root"]["/Lang"] == "en-GB"


def test_every_typeface_is_inside_the_file():
    reader = pypdf.PdfReader(io.BytesIO(render_pdf(make_full_document())))
    fonts = [font.get_object() for page in reader.pages for font in page["/Resources"]["/Font"].values()]
    assert fonts
    assert all("/FontFile2" in font["/FontDescriptor"] for font in fonts)
    assert all("Atkinson" in font["/BaseFont"] for font in fonts)


def test_the_sheet_is_a4():
    box = pypdf.PdfReader(io.BytesIO(render_pdf(make_full_document()))).pages[0].mediabox
    assert (round(box.width), round(box.height)) == (595, 842)


def test_every_page_tells_its_number_and_how_many_there_are():
    pages = read_pages(render_pdf(make_document(long_table())))
    assert len(pages) > 3
    for number, page in enumerate(pages, start=1):
        assert page.endswith(f"Page {number} of {len(pages)}")


def test_the_first_page_says_whose_what_and_when():
    first = read_pages(render_pdf(make_document(PIECES)))[0]
    assert first.startswith(
        "Alder Yard studio Cost of cast 40 Fern studs and a seed pod "
        "21 November 2026; made Thu 26 Nov 2026; money in GBP"
    )


def test_a_report_without_money_names_no_currency():
    assert "GBP" not in read_pages(render_pdf(make_document(Prose("No money here."))))[0]


def test_an_empty_report_is_one_page():
    assert len(read_pages(render_pdf(make_document()))) == 1


# Blocks


def test_a_working_is_printed_whole():
    page = read_pages(render_pdf(make_document(WorkingBlock(METAL))))[0]
    for words in (
        "Metal in the pieces 71.88",
        "cost of the charge x mass of the pieces / mass of the charge",
        "Charge (cast 40) 180.00 g",
        "1. 150.27 x 86.10 g / 180.00 g 71.88",
        "Rounded once, at the end.",
        "From: common practice.",
    ):
        assert words in page


def test_a_chart_brings_its_figures_as_a_table_unless_its_key_gives_them_all():
    page = " ".join(read_pages(render_pdf(make_full_document())))
    assert "Loss of each cast, in figures" in page
    assert "Cast 39 1.9 % more than usual, spill noted" in page
    assert "Where the metal went, in figures" not in page
    assert "lost 0.75 g (0.42 %)" in page


def test_facts_and_prose_are_printed():
    page = read_pages(render_pdf(make_full_document()))[0]
    assert "Where it went The loss is within the limit. Flask 3 of firing 28" in page


def test_what_a_person_typed_is_printed_and_never_obeyed():
    typed = '<b>bold</b> & <font size="99">big</font> {{ x }} (a) \\n'
    document = make_document(
        Heading(typed),
        Prose(typed),
        Facts(((typed, typed),)),
        Table(typed, (Column("a", typed),), ((typed,),), note=typed),
        title=typed,
        studio=typed,
    )
    assert " ".join(read_pages(render_pdf(document))).count(typed) >= 8


def test_a_block_nobody_knows_is_refused():
    with pytest.raises(TypeError, match="str"):
        render_pdf(make_document("words"))  # type: ignore[arg-type]


# Tables


def test_cells_are_printed_with_their_units():
    page = read_pages(render_pdf(make_document(PIECES)))[0]
    assert "Fern stud Sat 21 Nov 2026 7.42 g 6.864 g 12.17 10.50 % 1 h 35 min 2 pcs" in page
    assert "Cast 1,066.32 g 986.346 g 1,091.77 9 h 5 min 1,236 pcs" in page
    assert "Shares add up to the cost of the cast." in page


def test_the_heading_of_a_table_stands_on_every_page():
    pages = read_pages(render_pdf(make_document(long_table())))
    assert all("Day What moved Mass" in page for page in pages)
    assert all("All that moved, continued" in page for page in pages[1:])


def test_no_row_of_a_long_table_is_missing_or_double():
    text = " ".join(read_pages(render_pdf(make_document(long_table(1000)))))
    assert [text.count(f"Button {n} ") for n in range(1000)] == [1] * 1000


@pytest.mark.parametrize("rows", range(30, 60))
def test_totals_never_stand_alone_on_a_page(rows):
    last = read_pages(render_pdf(make_document(long_table(rows))))[-1]
    assert "Total 12.34 g" in last
    assert f"Button {rows - 1} " in last


def test_an_empty_table_says_so():
    columns = (Column("a", "Lot"), Column("b", "Mass", "mass"))
    assert (
        "Lots Lot Mass Nothing to show."
        in read_pages(render_pdf(make_document(Table("Lots", columns, ()))))[0]
    )


def test_numbers_stand_under_each_other_at_the_right():
    letters = next(read_letters(lay(PIECES)))
    ends = [round(box[2], 2) for letter, box in letters if letter == "s" and box[2] > 540]
    assert len(ends) == 4
    assert len(set(ends)) == 1


@pytest.mark.parametrize("is_landscape", [False, True])
@pytest.mark.parametrize(
    "table",
    [
        PIECES,
        long_table(60),
        wide_table(8),
        wide_table(12),
        wide_table(40),
        Table(
            "Names", (Column("a", "Supplier"), Column("b", "Mass", "mass")), ((ENDLESS[:120], 10), ("x", 5))
        ),
        Table(
            "Long", tuple(Column(f"c{n}", ENDLESS) for n in range(6)), ((ENDLESS,) * 6, ("word " * 90,) * 6)
        ),
        Table("Notes", (Column("a", "Note"), Column("b", "Mass", "mass")), (("word " * 2500, 10), ("x", 5))),
        Table("Lines", (Column("a", "Note"),), (("one\ntwo\n\nthree",), ("four",))),
        Table("Letters", (Column("a", "Who"),), (("Иван 漢字 ậ → ☃ \u202e \x00 \U0001f525",),)),
        Table("Big", tuple(Column(f"c{n}", "M", "money") for n in range(9)), ((10**18,) * 9,), (10**19,) * 9),
        Table("Words in place of numbers", (Column("c", "Cost", "money"),), (("not known, " * 40,),)),
        Table("w" * 400, (Column("a", "A"),), (("b",),)),
    ],
    ids=lambda value: value.caption[:12] if isinstance(value, Table) else str(value),
)
def test_nothing_of_a_table_is_cut_off_or_written_over(table, is_landscape):
    assert faults(lay(table, is_landscape), is_landscape) == []


def test_a_name_without_spaces_is_printed_to_the_last_letter():
    table = Table("Names", (Column("a", "Who"), Column("b", "Note")), ((ENDLESS, "word " * 60),))
    text = body_text(lay(table))
    assert sum(text.count(letter) for letter in "z") == 0
    assert len(text) == len("NamesWhoNote" + ENDLESS + "word" * 60)


def test_a_row_higher_than_a_page_runs_on():
    content = lay(Table("Notes", (Column("a", "Note"),), ((" ".join(f"w{n}" for n in range(9000)),),)))
    pages = read_pages(content)
    words = " ".join(pages).split()
    assert len(pages) > 2
    assert [word for word in words if word.startswith("w")] == [f"w{n}" for n in range(9000)]


@pytest.mark.parametrize("columns", [4, 8, 10, 14, 30])
def test_type_is_never_smaller_than_eight_points(columns):
    sizes = []
    for page in pypdf.PdfReader(io.BytesIO(lay(wide_table(columns), columns >= 10))).pages:
        page.extract_text(
            visitor_text=lambda text, _cm, _tm, _font, size: sizes.append(size) if text.strip() else None
        )
    assert min(sizes) >= 8


def test_ten_columns_turn_the_sheet():
    cells = [read_cells(wide_table(columns)) for columns in (5, 10)]
    assert [needs_landscape(one, A4_UPRIGHT) for one in cells] == [False, True]
    box = pypdf.PdfReader(io.BytesIO(render_pdf(make_document(wide_table(10))))).pages[0].mediabox
    assert box.width > box.height


def test_more_columns_than_a_sheet_holds_become_several_tables_with_the_names_in_each():
    page = " ".join(read_pages(render_pdf(make_document(wide_table(40)))))
    assert "Every month, part 1 of" in page
    assert page.count("Grain") == page.count("Every month, part")
    assert all(f"100.{n:02d} g" in page for n in range(39))


def test_numbers_are_not_broken_to_make_room_for_words():
    table = Table(
        "Notes", (Column("a", "Note"), Column("b", "Mass", "mass")), ((" ".join(["word"] * 100), 1_234_567),)
    )
    fit = fit_columns(read_cells(table), A4_UPRIGHT)
    assert fit.wraps == [True, False]
    assert "1,234.57 g" in pypdf.PdfReader(io.BytesIO(lay(table))).pages[0].extract_text()


def test_a_short_table_stands_whole_on_one_page():
    for lines in range(20, 60, 3):
        pages = read_pages(render_pdf(make_document(Prose("line\n" * lines), long_table(8))))
        assert not any("continued" in page for page in pages)


def test_no_heading_is_left_alone_at_the_foot_of_a_page():
    for lines in range(20, 60):
        pages = read_pages(render_pdf(make_document(Prose("line\n" * lines), Heading("Lonely"), PIECES)))
        assert any("Lonely What each piece cost" in page for page in pages)


# All other blocks


@pytest.mark.parametrize("text", [ENDLESS * 4, "word " * 800, "Иван 漢字 ậ → ☃", "", "\n\n"])
def test_no_block_writes_off_the_sheet(text):
    from dataclasses import replace

    from studio.kit.working import Given, Step

    working = replace(
        METAL,
        title=text,
        result=text,
        formula=text,
        source=text,
        notes=(text,),
        givens=(Given(text, text, text), Given(text, "5\u00a0g", "")),
        steps=(Step(text, text), Step(text, "5"), Step("short", text)),
    )
    content = render_pdf(
        make_document(
            Heading(text),
            Prose(text),
            Facts(((text, text), ("a", text))),
            WorkingBlock(working),
            title=text,
            subtitle=text,
            studio=text,
            period_text=text,
        )
    )
    assert faults(content) == []


def test_the_edge_of_a_page_holds_long_names_apart():
    content = render_pdf(make_document(long_table(), title=ENDLESS * 3, studio=ENDLESS * 3))
    assert "\u2026" in read_pages(content)[1]


# Speed


def draw_bare(strings):
    """The same words put on pages with nothing but calls to the canvas."""
    canvas = Canvas(io.BytesIO(), pagesize=A4, invariant=1, initialFontName=REGULAR, initialFontSize=9)
    for start in range(0, len(strings), 45):
        canvas.setFont(REGULAR, 9)
        for line, row in enumerate(strings[start : start + 45]):
            for place, text in enumerate(row):
                draw = canvas.drawString if place < 4 else canvas.drawRightString
                draw(48 + place * 60, 780 - line * 15.6, text)
        canvas.showPage()
    canvas.save()


def quickest(work, times=3):
    taken = []
    for _ in range(times):
        start = time.process_time()
        work()
        taken.append(time.process_time() - start)
    return min(taken)


@pytest.mark.slow
def test_forty_pages_take_at_most_three_times_the_bare_drawing():
    kinds = ("day", "text", "text", "text", "mass", "fine", "money", "minutes")
    columns = tuple(Column(f"c{n}", f"Column {n}", kind) for n, kind in enumerate(kinds))
    rows = tuple(
        (
            date(2026, 1, 1),
            f"Cast {n}",
            "Fern stud, left",
            "the tin",
            12_410 * n,
            11_479_250 * n,
            999_999 * n,
            n,
        )
        for n in range(1780)
    )
    document = make_document(Table("All that moved", columns, rows))
    strings = [
        [print_cell(column, value) for column, value in zip(columns, row, strict=True)] for row in rows
    ]
    assert len(pypdf.PdfReader(io.BytesIO(render_pdf(document))).pages) >= 40
    assert quickest(lambda: render_pdf(document)) <= 3 * quickest(lambda: draw_bare(strings))
