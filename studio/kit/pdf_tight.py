"""A report on as few sheets as can be: small type, narrow edges, and blocks side by side. Sizes are points.

It is what hangs on a wall: nothing in it is smaller than the smallest type of the other papers, and what is written by
hand keeps its room. What does not fit is laid out as ever, on more sheets.
"""

from collections.abc import Sequence
from xml.sax.saxutils import escape

from reportlab.platypus import Flowable, HRFlowable, KeepTogether, Paragraph, Spacer, Table

from studio.kit import documents
from studio.kit.cautions import find_caution
from studio.kit.documents import Block, Care, Document, Facts, NoteLines, Prose
from studio.kit.fonts import BOLD, REGULAR, measure, printable
from studio.kit.pdf_columns import SIZES, read_cells
from studio.kit.pdf_sheet import INK, QUIET, RULE, STRONG, THIN, Sheet, style, write
from studio.kit.pdf_table import TIGHT, lay_whole

_SIZE = SIZES[-1]
_PLAIN, _QUIET = style(_SIZE), style(_SIZE, colour=QUIET)
_NAME, _CAPTION = style(14, BOLD), style(9, BOLD)
_BETWEEN = 16.0
_WRITING = 20.0
# A table of no more rows stays whole.
_SHORT = 12


def lay_tight(sheet: Sheet, document: Document) -> list[Flowable]:
    """The blocks that a document has for this, from its name down."""
    named = _side_by_side(
        sheet,
        [
            [write(document.title, _NAME)],
            [write(document.studio, _QUIET), write(document.facts_line, _QUIET)],
        ],
    )
    story: list[Flowable] = [named, write(document.subtitle, _PLAIN)]
    story.append(HRFlowable("100%", THIN, color=RULE, spaceBefore=3, spaceAfter=2))
    for one in document.tight:
        if isinstance(one, tuple):
            half = sheet.narrowed((sheet.width - _BETWEEN) / 2)
            story += [Spacer(0, 5), _side_by_side(sheet, [_lay_all(half, blocks) for blocks in one])]
        elif isinstance(one, documents.Table) and len(one.rows) <= _SHORT:
            story.append(KeepTogether(_lay(sheet, one)))
        else:
            story += _lay(sheet, one)
    return story


def _lay_all(sheet: Sheet, blocks: Sequence[Block]) -> list[Flowable]:
    return [flowable for block in blocks for flowable in _lay(sheet, block)]


def _lay(sheet: Sheet, block: Block) -> list[Flowable]:
    if isinstance(block, documents.Table):
        note = [write(block.note, _QUIET)] if block.note else []
        return [
            write(block.caption, _CAPTION, spaceBefore=6),
            lay_whole(sheet, read_cells(block), TIGHT),
            *note,
        ]
    if isinstance(block, Facts):
        return [write("; ".join(f"{label}: {value}" for label, value in block.pairs), _PLAIN)]
    if isinstance(block, Prose):
        return [write(block.text, _PLAIN, spaceBefore=3)]
    if isinstance(block, Care):
        return _lay_care(block)
    if isinstance(block, NoteLines):
        return [_Notes(block)]
    raise TypeError(f"no way to put a {type(block).__name__} on a tight sheet")


def _lay_care(care: Care) -> list[Flowable]:
    """Words of care under a rule, their title before them."""
    caution = find_caution(care.kind)
    rule = HRFlowable("100%", STRONG, color=INK, spaceBefore=5, spaceAfter=1)
    # The only markup here: a caution's words are the studio's own.
    title, text = (escape(printable(words)) for words in (caution.title, f"{caution.text} {caution.ending}"))
    return [rule, Paragraph(f'<font name="{BOLD}">{title}.</font> {text}', _PLAIN)]


def _side_by_side(sheet: Sheet, columns: Sequence[Sequence[Flowable]]) -> Table:
    width = (sheet.width - _BETWEEN * (len(columns) - 1)) / len(columns)
    first, last = (0, 0), (-1, -1)
    bare: list[object] = [("FONT", first, last, REGULAR), ("VALIGN", first, last, "TOP")]
    bare += [(side, first, last, 0) for side in ("LEFTPADDING", "TOPPADDING", "BOTTOMPADDING")]
    bare += [("RIGHTPADDING", first, last, _BETWEEN), ("RIGHTPADDING", (-1, 0), last, 0)]
    widths = [width + _BETWEEN] * (len(columns) - 1) + [width]
    return Table([[list(column) for column in columns]], widths, style=bare, hAlign="LEFT")


class _Notes(Flowable):
    """Words, and as many lines to write on as are asked for and the sheet has room for: the first beside the words."""

    def __init__(self, notes: NoteLines) -> None:
        super().__init__()
        self.notes = notes

    def wrap(self, width: float, height: float) -> tuple[float, float]:
        self.width = width
        self.height = max(min(self.notes.count, int(height // _WRITING)), 1) * _WRITING
        return self.width, self.height

    def draw(self) -> None:
        words = measure(self.notes.text, BOLD, _SIZE) + 6
        self.canv.setFont(BOLD, _SIZE)
        self.canv.setFillColor(INK)
        self.canv.drawString(0, self.height - _WRITING + 2, self.notes.text)
        self.canv.setStrokeColor(RULE)
        self.canv.setLineWidth(THIN)
        for nth in range(round(self.height / _WRITING)):
            left = words if nth == round(self.height / _WRITING) - 1 else 0
            self.canv.line(left, nth * _WRITING, self.width, nth * _WRITING)
