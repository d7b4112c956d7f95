"""What a person typed into the search box, taken apart: words that must all be there, and numbers of things."""

import unicodedata
from dataclasses import dataclass

MOST_WORDS = 8
# A number of more digits is the number of nothing here.
_MOST_DIGITS = 9
_NUMBERED = ("cast", "lot", "batch", "order")
_AROUND_WORDS = ",;:.!?()\"'"


@dataclass(frozen=True, slots=True)
class Term:
    """A word as it was typed. `number` where it may be that of a thing: of a "cast", a "lot" or a "batch" by `of`."""

    text: str
    number: int | None = None
    of: str = ""


def read_terms(typed: str) -> tuple[Term, ...]:
    """ "fern cast 40" is the word "fern" and the number of a cast; letters that nobody sees are passed over.

    Words beyond MOST_WORDS are left out.
    """
    seen = "".join(" " if unicodedata.category(letter).startswith("C") else letter for letter in typed)
    words = [word for part in seen.split() if (word := part.strip(_AROUND_WORDS))][:MOST_WORDS]
    terms: list[Term] = []
    for word in words:
        number = _read_number(word)
        before = terms[-1].text.lower() if terms else ""
        if number is not None and before in _NUMBERED:
            terms[-1] = Term(f"{terms[-1].text} {word}", number, before)
        else:
            terms.append(Term(word, number))
    return tuple(terms)


def _read_number(word: str) -> int | None:
    digits = word.removeprefix("#")
    is_number = digits.isascii() and digits.isdecimal() and len(digits) <= _MOST_DIGITS
    return int(digits) if is_number else None
