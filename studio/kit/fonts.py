"""The studio's typeface on paper, with figures that stand under each other, and letters it can print.

The family comes from the package fontpkg-atkinson-hyperlegible, so no font file lies in this project.
"""

import struct
import threading
import unicodedata
from functools import lru_cache
from pathlib import Path

import fontpkg_atkinson_hyperlegible
from reportlab.pdfbase import pdfmetrics
from reportlab.pdfbase.ttfonts import TTFont

REGULAR = "Studio-Regular"
BOLD = "Studio-Bold"
ITALIC = "Studio-Italic"

_FILES = {REGULAR: "Regular", BOLD: "Bold", ITALIC: "Italic"}
_DIGITS = range(ord("0"), ord("9") + 1)
_lock = threading.Lock()

_READABLE = {
    "\u2192": "->",
    "\u2190": "<-",
    "\u2194": "<->",
    "\u21d2": "=>",
    "\u2010": "-",
    "\u2011": "-",
    "\u2012": "\u2013",
    "\u2015": "\u2014",
    "\u2009": " ",
    "\u202f": "\u00a0",
    "\u2713": "yes",
    "\u2714": "yes",
    "\u2717": "no",
    "\u2718": "no",
    "\u2300": "\u00d8",
    "\u2033": '"',
    "\u2032": "'",
}
# Neighbouring alphabets in plain letters: a supplier's name must stay a name on paper.
_CYRILLIC = dict(
    zip(
        "абвгдежзийклмнопрстуфхцчшщъыьэюяёђѓєѕіїјљњћќўџґ",
        "a b v g d e zh z i y k l m n o p r s t u f kh ts ch sh shch ' y ' e yu ya "
        "yo dj gj ye dz i yi j lj nj c kj u dz g".split(),
        strict=True,
    )
)
_GREEK = dict(
    zip(
        "αβγδεζηθικλμνξοπρςστυφχψω",
        "a v g d e z i th i k l m n x o p r s s t y f ch ps o".split(),
        strict=True,
    )
)
_LETTERS = _CYRILLIC | _GREEK


def font_path(face: str) -> Path:
    """Where the TrueType file of REGULAR, BOLD or ITALIC lies. Raises KeyError for another name."""
    return fontpkg_atkinson_hyperlegible.ROOT / "files" / f"AtkinsonHyperlegible-{_FILES[face]}.ttf"


def register_fonts() -> None:
    """Make the three faces known to ReportLab; later calls do nothing."""
    with _lock:
        if ITALIC in pdfmetrics.getRegisteredFontNames():
            return
        for name in _FILES:
            font = TTFont(name, str(font_path(name)))
            _use_tabular_figures(font)
            pdfmetrics.registerFont(font)


def measure(text: str, font: str, size: float) -> float:
    """Width of `text` in points as it will be printed."""
    register_fonts()
    width: float = pdfmetrics.stringWidth(printable(text), font, size)
    return width


def wrap(text: str, font: str, size: float, width: float) -> list[str]:
    """Break `text` into lines no wider than `width` points, at spaces where there are any, else inside words.

    Unbreakable spaces hold, so a number stays with its unit. Line ends in the text are kept. A single letter
    wider than `width` still gets its line, so nothing is ever dropped.
    """
    register_fonts()
    width_of = pdfmetrics.getFont(font).stringWidth
    text = printable(text)
    if "\n" not in text and width_of(text, size) <= width:
        return [text]
    lines: list[str] = []
    for paragraph in text.split("\n"):
        line = ""
        for word in paragraph.split(" "):
            longer = f"{line} {word}" if line else word
            if width_of(longer, size) <= width:
                line = longer
                continue
            if line:
                lines.append(line)
            *full, line = _break_word(word, font, size, width)
            lines.extend(full)
        lines.append(line)
    return lines


def _break_word(word: str, font: str, size: float, width: float) -> list[str]:
    width_of = pdfmetrics.getFont(font).stringWidth
    if width_of(word, size) <= width:
        return [word]
    parts, part, used = [], "", 0.0
    for letter in word:
        step = width_of(letter, size)
        if part and used + step > width:
            parts.append(part)
            part, used = "", 0.0
        part, used = part + letter, used + step
    return [*parts, part]


def printable(text: str) -> str:
    """`text` with every character the typeface lacks replaced by something a person can read.

    Accents it cannot draw are dropped, Cyrillic and Greek are written in Latin letters, the rest becomes "?".
    """
    known = _known_characters()
    if known.issuperset(text):
        return text
    text = unicodedata.normalize("NFC", text)
    return "".join(letter if letter in known else _spell(letter, known) for letter in text)


@lru_cache(maxsize=4096)
def _spell(letter: str, known: frozenset[str]) -> str:
    if letter == "\n":
        return letter
    if letter in _READABLE:
        return _READABLE[letter]
    if letter.isspace():
        return " "
    if unicodedata.category(letter) in {"Cc", "Cf", "Mn", "Me"}:
        return ""
    if letter.lower() in _LETTERS:
        spelt = _LETTERS[letter.lower()]
        return spelt if letter.islower() else spelt.capitalize()
    parts = unicodedata.normalize("NFKD", letter)
    base = parts[0]
    for mark in parts[1:]:
        # Of two accents, keep the one that the typeface has on this letter.
        accented = unicodedata.normalize("NFC", base + mark)
        if len(accented) == 1 and accented in known:
            return accented
    plain = "".join(part for part in parts if part in known)
    if not plain and base != letter:
        return _spell(base, known)
    return plain or "?"


@lru_cache(maxsize=1)
def _known_characters() -> frozenset[str]:
    """Characters that all three faces can draw."""
    register_fonts()
    faces = [set(pdfmetrics.getFont(name).face.charToGlyph) for name in _FILES]
    # Accents on their own are left out: they are joined to their letter first.
    common = (chr(code) for code in set.intersection(*faces) if 32 <= code < 0xFFFF)
    return frozenset(letter for letter in common if not unicodedata.combining(letter))


def _use_tabular_figures(font: TTFont) -> None:
    """Draw 0 to 9 with the typeface's own even-width figures, so that columns of numbers line up.

    ReportLab knows no font features. Exchanging the glyphs keeps the text itself plain digits, so that
    it can still be searched and copied.
    """
    face = font.face
    even = _read_single_substitutions(bytes(face.get_table("GSUB")), b"tnum")
    for code in _DIGITS:
        glyph = even.get(face.charToGlyph[code])
        if glyph is not None:
            face.charToGlyph[code] = glyph
            face.charWidths[code] = face.hmetrics[glyph][0]


def _read_single_substitutions(table: bytes, feature: bytes) -> dict[int, int]:
    """Glyph for glyph exchanges of one feature (OpenType specification, GSUB lookup type 1)."""
    features, lookups = _read_u16(table, 6), _read_u16(table, 8)
    exchanges: dict[int, int] = {}
    for record in range(features + 2, features + 2 + 6 * _read_u16(table, features), 6):
        if table[record : record + 4] != feature:
            continue
        start = features + _read_u16(table, record + 4)
        for place in range(_read_u16(table, start + 2)):
            number = _read_u16(table, start + 4 + 2 * place)
            lookup = lookups + _read_u16(table, lookups + 2 + 2 * number)
            if _read_u16(table, lookup) == 1:
                exchanges |= _read_lookup(table, lookup)
    return exchanges


def _read_lookup(table: bytes, lookup: int) -> dict[int, int]:
    exchanges: dict[int, int] = {}
    for place in range(_read_u16(table, lookup + 4)):
        start = lookup + _read_u16(table, lookup + 6 + 2 * place)
        glyphs = _read_coverage(table, start + _read_u16(table, start + 2))
        if _read_u16(table, start) == 1:
            shift = _read_u16(table, start + 4)
            exchanges |= {glyph: (glyph + shift) & 0xFFFF for glyph in glyphs}
        else:
            exchanges |= {glyph: _read_u16(table, start + 6 + 2 * nth) for nth, glyph in enumerate(glyphs)}
    return exchanges


def _read_coverage(table: bytes, start: int) -> list[int]:
    count = _read_u16(table, start + 2)
    if _read_u16(table, start) == 1:
        return [_read_u16(table, start + 4 + 2 * place) for place in range(count)]
    ranges = [start + 4 + 6 * place for place in range(count)]
    return [glyph for at in ranges for glyph in range(_read_u16(table, at), _read_u16(table, at + 2) + 1)]


def _read_u16(table: bytes, offset: int) -> int:
    value: int = struct.unpack_from(">H", table, offset)[0]
    return value
