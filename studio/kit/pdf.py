"""A report as a PDF: A4, black on white, thin rules, the studio's own typeface inside the file.

Text is only ever placed as text, so nothing a person typed can act as markup. The file carries its title,
author and language; it is not a tagged PDF.
"""

from reportlab.graphics.shapes import Drawing, String
from reportlab.lib.enums import TA_RIGHT
from reportlab.lib.styles import ParagraphStyle
from reportlab.platypus import Flowable, HRFlowable, KeepTogether, Paragraph, Spacer, Table

from studio.kit import documents, printing
from studio.kit.cautions import find_caution
from studio.kit.chart_pen import PAPER_TEXT, Picture
from studio.kit.documents import (
    Block,
    Cards,
    Care,
    Column,
    Document,
    Facts,
    Heading,
    NoteLines,
    Prose,
    WorkingBlock,
)
from studio.kit.fonts import BOLD, ITALIC, REGULAR, measure, printable, register_fonts
from studio.kit.pdf_cards import card_height, lay_cards
from studio.kit.pdf_columns import Cells, needs_landscape, read_cells
from studio.kit.pdf_sheet import BODY_SIZE, INK, QUIET, RULE, STRONG, THIN, TITLE, Sheet, keep, style, write
from studio.kit.pdf_table import lay_table
from studio.kit.pdf_tight import lay_tight
from studio.kit.working import Working

_PLAIN = style()
_QUIET = style(colour=QUIET)
_SMALL_QUIET = style(8.5, colour=QUIET)
_STRONG = style(font=BOLD)
_FORMULA = style(font=ITALIC)
_LEAD = style(11)
_NAME = style(20, BOLD)
_HEADING = style(12, BOLD, spaceBefore=16)
_CARE = style(8.5)
_CARE_TITLE = style(8.5, BOLD)

# Long lines are hard to read, also on a sheet turned on its side.
_WIDEST_TEXT = 420.0
_WIDEST_WORKING = 499.0
_CARE_INDENT = 92.0
_INDENT = 12.0
# Between two lines that are written on by hand.
_WRITING = 22.0


def render_pdf(document: Document) -> bytes:
    """The document as a PDF file; the same document gives the same bytes."""
    register_fonts()
    if document.tight:
        tight = Sheet(is_tight=True)
        painted = tight.paint(document, lay_tight(tight, document))
        if tight.count <= document.most_sheets:
            return painted
    blocks = document.blocks[: document.on_paper]
    cells = [read_cells(block) if isinstance(block, documents.Table) else None for block in blocks]
    upright_width = Sheet().width
    sheet = Sheet(any(needs_landscape(table, upright_width) for table in cells if table))
    story = [
        write(document.studio, _QUIET, spaceAfter=4),
        write(document.title, _NAME),
        *([write(document.subtitle, _LEAD)] if document.subtitle else []),
        write(document.facts_line, _QUIET),
        HRFlowable("100%", THIN, color=RULE, spaceBefore=8, spaceAfter=0),
        Spacer(0, 4),
    ]
    following = [*blocks[1:], None]
    for block, table, next_block in zip(blocks, cells, following, strict=False):
        if isinstance(block, Heading):
            # A heading never stands alone at the foot of a page.
            story.append(keep(sheet, 16 + _HEADING.leading + _measure_start(sheet, next_block)))
        story += _lay_block(sheet, block, table)
    return sheet.paint(document, story)


def _lay_block(sheet: Sheet, block: Block, cells: Cells | None) -> list[Flowable]:
    if isinstance(block, documents.Table) and cells is not None:
        note = [_write_within(sheet, block.note, _SMALL_QUIET, before=3)] if block.note else []
        return [*lay_table(sheet, block.caption, cells), *note]
    if isinstance(block, Heading):
        return [write(block.text, _HEADING)]
    if isinstance(block, Prose):
        return [_write_within(sheet, block.text, _PLAIN, _WIDEST_TEXT, before=7)]
    if isinstance(block, Facts):
        return _lay_facts(sheet, block)
    if isinstance(block, Cards):
        note = [_write_within(sheet, block.table.note, _SMALL_QUIET, before=3)] if block.table.note else []
        return [*lay_cards(sheet, block), *note]
    if isinstance(block, Picture):
        return _lay_picture(sheet, block)
    if isinstance(block, WorkingBlock):
        return _lay_working(sheet, block.working)
    if isinstance(block, Care):
        return [_lay_care(sheet, block)]
    if isinstance(block, NoteLines):
        start = keep(sheet, 12 + _STRONG.leading + 2 * _WRITING)
        return [start, write(block.text, _STRONG, spaceBefore=12), _WritingLines(block.count)]
    raise TypeError(f"no way to print a {type(block).__name__}")


def _write_within(
    sheet: Sheet,
    text: str,
    look: ParagraphStyle,
    widest: float = _WIDEST_WORKING,
    before: float = 0,
    indent: float = 0,
) -> Paragraph:
    """A paragraph in lines no longer than `widest`."""
    return write(text, look, spaceBefore=before, leftIndent=indent, rightIndent=max(sheet.width - widest, 0))


def _lay_cells(
    rows: list[list[Paragraph]], widths: list[float], *commands: object, before: float = 0
) -> Table:
    """Paragraphs side by side; a row may run on to the next sheet."""
    first, last = (0, 0), (-1, -1)
    sides = ("LEFTPADDING", "RIGHTPADDING", "TOPPADDING", "BOTTOMPADDING")
    # The font is named although no cell needs it: else the file would name one that it does not hold.
    bare: list[object] = [("FONT", first, last, REGULAR), ("VALIGN", first, last, "TOP")]
    bare += [(side, first, last, 0) for side in sides]
    return Table(rows, widths, style=[*bare, *commands], hAlign="LEFT", splitInRow=1, spaceBefore=before)


def _lay_care(sheet: Sheet, care: Care) -> Flowable:
    """Words of care beside their title, between two rules and kept together."""
    caution = find_caution(care.kind)
    first, last = (0, 0), (-1, -1)
    title, text = write(caution.title, _CARE_TITLE, rightIndent=10), f"{caution.text} {caution.ending}"
    cells = _lay_cells(
        [[title, write(text, _CARE)]],
        [_CARE_INDENT, sheet.width - _CARE_INDENT],
        ("LINEABOVE", first, last, STRONG, INK),
        ("LINEBELOW", first, last, THIN, RULE),
        ("TOPPADDING", first, last, 3),
        ("BOTTOMPADDING", first, last, 4),
        before=9,
    )
    return KeepTogether([cells])


class _WritingLines(Flowable):
    """Empty lines to write on, as many as the sheet has room for: one with nothing else helps nobody."""

    def __init__(self, count: int) -> None:
        super().__init__()
        self.count = count

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width, self.height = width, min(self.count, int(height // _WRITING)) * _WRITING
        return self.width, self.height

    def draw(self) -> None:
        self.canv.setStrokeColor(RULE)
        self.canv.setLineWidth(THIN)
        for nth in range(round(self.height / _WRITING)):
            self.canv.line(0, nth * _WRITING, self.width, nth * _WRITING)


def _measure_start(sheet: Sheet, block: Block | None) -> float:
    """How much of a block has to stand on the same page as the heading above it."""
    if isinstance(block, Cards):
        return card_height(sheet)
    if isinstance(block, Picture):
        return TITLE.leading + 20 + float(_draw(sheet, block).height)
    if isinstance(block, WorkingBlock):
        return 12 + _working_height(block.working)
    return 130 if isinstance(block, documents.Table) else 60


def _lay_facts(sheet: Sheet, facts: Facts) -> list[Flowable]:
    if not facts.pairs:
        return []
    width = min(sheet.width, _WIDEST_WORKING)
    widest = max(measure(label, REGULAR, BODY_SIZE) for label, _ in facts.pairs)
    indent = min(widest, width * 0.4) + 14
    rows = [[write(label, _QUIET, rightIndent=13), write(value, _PLAIN)] for label, value in facts.pairs]
    under = ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5)
    return [_lay_cells(rows, [indent, width - indent], under, before=8)]


def _lay_picture(sheet: Sheet, picture: Picture) -> list[Flowable]:
    title = write(picture.title, TITLE, spaceBefore=12, spaceAfter=5)
    drawn: list[Flowable] = [KeepTogether([title, _draw(sheet, picture)])]
    if picture.rows:
        figures = read_cells(_picture_table(picture))
        drawn += lay_table(sheet, f"{picture.title}, in figures", figures, before=6)
    return drawn


def _draw(sheet: Sheet, picture: Picture) -> Drawing:
    """The drawing in its own size, or shrunk to the sheet if it must be; its text is made printable."""
    drawing = picture.draw(min(sheet.width, _WIDEST_WORKING), PAPER_TEXT)
    room = sheet.height - TITLE.leading - 20
    drawing.renderScale = min(1.0, sheet.width / drawing.width, room / drawing.height)
    # Else the file would name a typeface that it does not hold.
    drawing.initialFontName = REGULAR
    for shape in drawing.contents:
        if isinstance(shape, String):
            shape.text = printable(shape.text)
    return drawing


def _picture_table(picture: Picture) -> documents.Table:
    """The figures of a chart, which are printed text; columns of numbers stand at the right."""
    columns = []
    for place, header in enumerate(picture.headers):
        texts = [row[place] for row in picture.rows if row[place]]
        is_number = bool(place and texts) and all(text.lstrip(printing.MINUS)[:1].isdigit() for text in texts)
        columns.append(Column(header, header, "count" if is_number else "text"))
    return documents.Table(picture.title, tuple(columns), picture.rows)


def _lay_working(sheet: Sheet, working: Working) -> list[Flowable]:
    rule = ("LINEBELOW", (0, 0), (-1, -1), THIN, RULE)
    under = ("BOTTOMPADDING", (0, 0), (-1, -1), 2)
    laid = [
        keep(sheet, 12 + _working_height(working)),
        *_lay_pair(sheet, working.title, working.result, _STRONG, _STRONG, 0, rule, under, before=12),
        _write_within(sheet, working.formula, _FORMULA, before=2, indent=_INDENT),
    ]
    for given in working.givens:
        origin = f" ({given.origin})" if given.origin else ""
        laid += _lay_pair(sheet, f"{given.label}{origin}", given.value, _QUIET, _PLAIN)
    for number, step in enumerate(working.steps, start=1):
        laid += _lay_pair(sheet, f"{number}. {step.text}", step.result, _PLAIN, _PLAIN)
    laid += [_write_within(sheet, note, _QUIET, indent=_INDENT) for note in working.notes]
    source = _write_within(sheet, f"From: {working.source}.", _SMALL_QUIET, indent=_INDENT)
    source.spaceAfter = 3
    return [*laid, source]


def _lay_pair(
    sheet: Sheet,
    text: str,
    value: str,
    look: ParagraphStyle,
    value_look: ParagraphStyle,
    indent: float = _INDENT,
    *commands: object,
    before: float = 0,
) -> list[Flowable]:
    """Text on the left, its value at the right end of the first line; neither runs into the other."""
    width = min(sheet.width, _WIDEST_WORKING)
    value_width = measure(value, value_look.fontName, value_look.fontSize) + 0.1
    if value_width > (width - indent) * 0.5:
        return [
            _write_within(sheet, text, look, before=before, indent=indent),
            _write_within(sheet, value, value_look, indent=indent + _INDENT),
        ]
    words = write(text, look, leftIndent=indent, rightIndent=14)
    cells = [words, write(value, value_look, alignment=TA_RIGHT)]
    return [_lay_cells([cells], [width - value_width, value_width], *commands, before=before)]


def _working_height(working: Working) -> float:
    """About what a working takes: few of its lines need wrapping."""
    lines = 4 + len(working.givens) + len(working.steps) + len(working.notes)
    return lines * _PLAIN.leading * 1.2
