"""Cards on paper: pictures in squares, side by side, each over its words."""

from collections.abc import Sequence
from typing import Any

from reportlab.platypus import Flowable, Image, KeepTogether, Table

from studio.kit.documents import Cards, Photo
from studio.kit.fonts import BOLD, REGULAR
from studio.kit.pdf_sheet import QUIET, RULE, THIN, TITLE, Sheet, style, write

_ACROSS = 3
_GAP = 14.0
_NAME = style(font=BOLD)
_LINE = style(8.5, colour=QUIET)


def lay_cards(sheet: Sheet, block: Cards) -> list[Flowable]:
    """The cards under the table's caption; a row of them stays on one sheet."""
    side = _side(sheet)
    laid: list[Flowable] = []
    for first in range(0, len(block.cards), _ACROSS):
        cards = block.cards[first : first + _ACROSS]
        # Where none of a row has a picture there is no room for one.
        has_photos = any(photo is not None for photo, *_ in cards)
        row = [_lay_card(side if has_photos else 0, *card) for card in cards]
        row += [[] for _ in range(_ACROSS - len(row))]
        widths = [side + _GAP] * (_ACROSS - 1) + [side]
        look: list[Any] = [("FONT", (0, 0), (-1, -1), REGULAR), ("VALIGN", (0, 0), (-1, -1), "TOP")]
        look += [(f"{edge}PADDING", (0, 0), (-1, -1), 0) for edge in ("LEFT", "RIGHT", "TOP", "BOTTOM")]
        title = [write(block.table.caption, TITLE, spaceBefore=14)] if not first else []
        cells = Table([row], widths, style=look, hAlign="LEFT", spaceBefore=8, spaceAfter=6)
        laid.append(KeepTogether([*title, cells]))
    return laid


def card_height(sheet: Sheet) -> float:
    """About what the first row of cards takes."""
    return TITLE.leading + _side(sheet) + 4 * _LINE.leading


def _side(sheet: Sheet) -> float:
    return (sheet.width - (_ACROSS - 1) * _GAP) / _ACROSS


def _lay_card(side: float, photo: Photo | None, name: str, lines: Sequence[str], told: str) -> list[Flowable]:
    image = None
    if photo is not None and photo.file.is_file():
        image = Image(str(photo.file), side, side, kind="proportional")
    return [
        *([_Frame(side, image)] if side else []),
        write(name, _NAME, spaceBefore=4),
        *(write(line, _LINE) for line in lines),
        write(told, _NAME),
    ]


class _Frame(Flowable):
    """A square with a picture in its middle, or an empty one: the words of a row of cards begin at one height."""

    def __init__(self, side: float, image: Image | None) -> None:
        super().__init__()
        self.width = self.height = side
        self.image = image

    def draw(self) -> None:
        if self.image is None:
            self.canv.setStrokeColor(RULE)
            self.canv.setLineWidth(THIN)
            self.canv.rect(0, 0, self.width, self.height)
            return
        wide, high = self.image.drawWidth, self.image.drawHeight
        self.image.drawOn(self.canv, (self.width - wide) / 2, (self.height - high) / 2)
