"""How much a page asks of a person: every field that is moved to, every key and every tap is counted as it is done.

The seconds follow the keystroke-level model (Card, Moran and Newell, "The keystroke-level model for user performance
time with interactive systems", Communications of the ACM 23:7, 1980; figures from memory): 1.1 s to point at something,
1.35 s to think of the next field and go there, and 0.3 s for a key.
"""

from dataclasses import dataclass, field
from decimal import Decimal
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from playwright.sync_api import Page

TAP_S, KEY_S, FIELD_S = Decimal("1.1"), Decimal("0.3"), Decimal("1.35")


@dataclass
class CountedHand:
    """A person at a page. An entry is a field that is written or chosen, or something that is pressed."""

    page: "Page"
    taps: int = 0
    keys: int = 0
    fields: int = 0
    entries: list[str] = field(default_factory=list)

    def write(self, name: str, text: str) -> None:
        """Type into the field of this name, key by key; a figure that stood there is written over."""
        asked = self.page.locator(f"[name='{name}']")
        asked.select_text()
        asked.press_sequentially(text)
        self.fields += 1
        self.keys += len(text)
        self.entries.append(f"{name} = {text}")

    def choose(self, name: str, word: str) -> None:
        """Open the list of this name and take the first choice in it that has the word: two taps."""
        texts = self.page.locator(f"select[name='{name}'] option").all_text_contents()
        place = next(number for number, text in enumerate(texts) if word in text)
        self.page.select_option(f"select[name='{name}']", index=place)
        self.fields += 1
        self.taps += 2
        self.entries.append(f"{name} = {texts[place].strip()}")

    def press(self, selector: str) -> None:
        """Tap a button, a link or what is folded."""
        self.page.locator(selector).first.click()
        self.taps += 1
        self.entries.append(selector)

    @property
    def seconds(self) -> Decimal:
        return self.taps * TAP_S + self.keys * KEY_S + self.fields * FIELD_S
