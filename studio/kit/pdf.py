"""A report as a PDF: A4, black on white, thin rules, the studio's own typeface inside the file.

Text is only ever placed as text, so nothing a person typed can act as markup. The file carries its title,
author and language; it is not a tagged PDF.
"""

from studio.kit import printing
from studio.kit.cautions import find_caution
from studio.kit.chart_pen import PAPER_TEXT, Picture
from studio.kit.documents import (
    Block,
    Care,
    Column,
    Document,
    Facts,
    Heading,
    NoteLines,
    Prose,
    Table,
    WorkingBlock,
)
from studio.kit.fonts import BOLD, ITALIC, REGULAR, measure, wrap
from studio.kit.pdf_columns import Cells, needs_landscape, read_cells
from studio.kit.pdf_sheet import HEADING, QUIET, SIDE, STRONG, THIN, Flow, PageWords, Style, paint
from studio.kit.pdf_table import place_table
from studio.kit.working import Working

_PLAIN = Style()
_QUIET = Style(colour=QUIET)
_SMALL_QUIET = Style(size=8.5, colour=QUIET)
_STRONG = Style(font=BOLD)
_FORMULA = Style(font=ITALIC)
_LEAD = Style(size=11)
_TITLE = Style(font=BOLD, size=20)
_CARE = Style(size=8.5)
_CARE_TITLE = Style(font=BOLD, size=8.5)
_BLOCK_TITLE = Style(font=BOLD, size=10.5)

# Long lines are hard to read, also on a sheet turned on its side.
_WIDEST_TEXT = 420.0
_WIDEST_WORKING = 499.0
_A4_WIDTH = 595.0
_CARE_INDENT = 92.0
# Between two lines that are written on by hand.
_WRITING = 22.0


def render_pdf(document: Document) -> bytes:
    """The document as a PDF file; the same document gives the same bytes."""
    blocks = enumerate(document.blocks)
    cells = {place: read_cells(block) for place, block in blocks if isinstance(block, Table)}
    upright_width = _A4_WIDTH - 2 * SIDE
    flow = Flow(any(needs_landscape(table, upright_width) for table in cells.values()))
    _place_title(flow, document)
    following = [*document.blocks[1:], None]
    for place, (block, next_block) in enumerate(zip(document.blocks, following, strict=False)):
        if isinstance(block, Heading):
            # A heading never stands alone at the foot of a page.
            flow.skip(16)
            flow.keep(HEADING.leading + _measure_start(flow, next_block))
        _place_block(flow, block, cells.get(place))
    words = PageWords(
        document.title, document.studio, document.subtitle, document.facts_line, document.language
    )
    return paint(flow, words)


def _place_title(flow: Flow, document: Document) -> None:
    flow.lines(document.studio, _QUIET, flow.width)
    flow.y -= 4
    flow.lines(document.title, _TITLE, flow.width)
    if document.subtitle:
        flow.lines(document.subtitle, _LEAD, flow.width)
    flow.lines(document.facts_line, _QUIET, flow.width)
    flow.y -= 8
    flow.rule(flow.left + flow.width)
    flow.y -= 4


def _place_block(flow: Flow, block: Block, cells: Cells | None) -> None:
    if isinstance(block, Table) and cells is not None:
        flow.skip(12)
        place_table(flow, block.caption, cells)
        if block.note:
            flow.skip(3)
            flow.lines(block.note, _SMALL_QUIET, min(flow.width, _WIDEST_WORKING))
    elif isinstance(block, Heading):
        flow.lines(block.text, HEADING, flow.width)
    elif isinstance(block, Prose):
        flow.skip(7)
        flow.lines(block.text, _PLAIN, min(flow.width, _WIDEST_TEXT))
    elif isinstance(block, Facts):
        _place_facts(flow, block)
    elif isinstance(block, Picture):
        _place_picture(flow, block)
    elif isinstance(block, WorkingBlock):
        _place_working(flow, block.working)
    elif isinstance(block, Care):
        _place_care(flow, block)
    elif isinstance(block, NoteLines):
        _place_note_lines(flow, block)
    else:
        raise TypeError(f"no way to print a {type(block).__name__}")


def _place_care(flow: Flow, care: Care) -> None:
    """Words of care beside their title, between two rules and kept together."""
    caution = find_caution(care.kind)
    titles = wrap(caution.title, BOLD, _CARE.size, _CARE_INDENT - 10)
    texts = wrap(f"{caution.text} {caution.ending}", REGULAR, _CARE.size, flow.width - _CARE_INDENT)
    count = max(len(titles), len(texts))
    flow.skip(9)
    flow.keep(count * _CARE.leading + 8)
    flow.rule(flow.left + flow.width, STRONG)
    flow.y -= 3
    for nth in range(count):
        flow.y -= _CARE.leading
        base = flow.y + _CARE.size * 0.3
        if nth < len(titles):
            flow.write(_CARE_TITLE, flow.left, base, titles[nth])
        if nth < len(texts):
            flow.write(_CARE, flow.left + _CARE_INDENT, base, texts[nth])
    flow.y -= 4
    flow.rule(flow.left + flow.width)


def _place_note_lines(flow: Flow, lines: NoteLines) -> None:
    flow.skip(12)
    flow.keep(_STRONG.leading + 2 * _WRITING)
    flow.lines(lines.text, _STRONG, flow.width)
    for _ in range(lines.count):
        if flow.room < _WRITING:
            return  # a sheet with nothing but empty lines helps nobody
        flow.y -= _WRITING
        flow.rule(flow.left + flow.width)


def _measure_start(flow: Flow, block: Block | None) -> float:
    """How much of a block has to stand on the same page as the heading above it."""
    if isinstance(block, Picture):
        drawing = block.draw(min(flow.width, _WIDEST_WORKING), PAPER_TEXT)
        return _BLOCK_TITLE.leading + 20 + float(drawing.height)
    if isinstance(block, WorkingBlock):
        return 12 + _working_height(block.working)
    return 130 if isinstance(block, Table) else 60


def _place_facts(flow: Flow, facts: Facts) -> None:
    flow.skip(8)
    width = min(flow.width, _WIDEST_WORKING)
    widest = max((measure(label, _QUIET.font, _QUIET.size) for label, _ in facts.pairs), default=0.0)
    indent = min(widest, width * 0.4) + 14
    for label, value in facts.pairs:
        label_lines = wrap(label, _QUIET.font, _QUIET.size, indent - 14)
        value_lines = wrap(value, _PLAIN.font, _PLAIN.size, width - indent)
        for place in range(max(len(label_lines), len(value_lines))):
            flow.keep(_PLAIN.leading)
            flow.y -= _PLAIN.leading
            base = flow.y + _PLAIN.size * 0.3
            if place < len(label_lines):
                flow.write(_QUIET, flow.left, base, label_lines[place])
            if place < len(value_lines):
                flow.write(_PLAIN, flow.left + indent, base, value_lines[place])
        flow.y -= 1.5


def _place_picture(flow: Flow, picture: Picture) -> None:
    flow.skip(12)
    width = min(flow.width, _WIDEST_WORKING)
    drawing = picture.draw(width, PAPER_TEXT)
    flow.keep(_BLOCK_TITLE.leading + 5 + drawing.height)
    flow.lines(picture.title, _BLOCK_TITLE, flow.width)
    flow.y -= 5
    flow.draw(drawing)
    if picture.rows and not picture.told_in_key:
        flow.skip(6)
        place_table(flow, f"{picture.title}, in figures", read_cells(_picture_table(picture)))


def _picture_table(picture: Picture) -> Table:
    """The figures of a chart, which are printed text; columns of numbers stand at the right."""
    columns = []
    for place, header in enumerate(picture.headers):
        texts = [row[place] for row in picture.rows if row[place]]
        is_number = bool(place and texts) and all(text.lstrip(printing.MINUS)[:1].isdigit() for text in texts)
        columns.append(Column(header, header, "count" if is_number else "text"))
    return Table(picture.title, tuple(columns), picture.rows)


def _place_working(flow: Flow, working: Working) -> None:
    flow.skip(12)
    width = min(flow.width, _WIDEST_WORKING)
    flow.keep(_working_height(working))
    flow.pair(working.title, working.result, _STRONG, _STRONG, width, 0)
    flow.y -= 2
    flow.rule(flow.left + width, THIN)
    flow.y -= 2
    flow.lines(working.formula, _FORMULA, width, 12)
    for given in working.givens:
        origin = f" ({given.origin})" if given.origin else ""
        flow.pair(f"{given.label}{origin}", given.value, _QUIET, _PLAIN, width, 12)
    for number, step in enumerate(working.steps, start=1):
        flow.pair(f"{number}. {step.text}", step.result, _PLAIN, _PLAIN, width, 12)
    for note in working.notes:
        flow.lines(note, _QUIET, width, 12)
    flow.lines(f"From: {working.source}.", _SMALL_QUIET, width, 12)
    flow.y -= 3


def _working_height(working: Working) -> float:
    """About what a working takes: few of its lines need wrapping."""
    lines = 4 + len(working.givens) + len(working.steps) + len(working.notes)
    return lines * _PLAIN.leading * 1.2
