"""What every page is given: the studio's name, the way about, and the chosen light."""

from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

NAME_BEFORE_SETUP = "Casting studio"
THEME_COOKIE = "theme"
THEMES = ("light", "dark")

_PLACES = (
    ("Bench", "inventory:bench", "bench"),
    ("Casts", "inventory:cast-list", "casts"),
    ("Stock", "inventory:stock", "stock"),
    ("Pieces", "inventory:piece-list", "pieces"),
    ("Buying", "inventory:buying", "buying"),
    ("Reports", "costing:report-list", "reports"),
)
_QUIET_PLACES = (
    ("Set-up", "inventory:setup", "setup"),
    ("Help", "inventory:help", "help"),
)
# Where an address belongs when its view does not say so itself.
_SECTIONS = (
    ("/casts/", "casts"),
    ("/plans/", "casts"),
    ("/days/", "casts"),
    ("/firings/", "casts"),
    ("/stock/", "stock"),
    ("/ledger/", "stock"),
    ("/pieces/", "pieces"),
    ("/buying/", "buying"),
    ("/reports/", "reports"),
    ("/setup/", "setup"),
    ("/help/", "help"),
)


@dataclass(frozen=True, slots=True)
class Place:
    """One way on: what it is called, where it leads, and the section it stands for."""

    label: str
    address: str
    section: str


def page(request: HttpRequest) -> dict[str, Any]:
    """Context processor. It asks nothing of the database itself: `request.studio` is lazy."""
    signed_in = getattr(getattr(request, "user", None), "is_authenticated", False)
    studio = getattr(request, "studio", None) or None
    theme = request.COOKIES.get(THEME_COOKIE, "")
    return {
        "studio_name": getattr(studio, "name", "") or NAME_BEFORE_SETUP,
        "currency": getattr(studio, "currency", ""),
        "section": find_section(request.path),
        "theme": theme if theme in THEMES else "",
        "signed_in": signed_in,
        "places": find_places(_PLACES) if signed_in else [],
        "quiet_places": find_places(_QUIET_PLACES) if signed_in else [],
    }


def find_places(places: tuple[tuple[str, str, str], ...]) -> list[Place]:
    """The places that have an address; the others are left out."""
    found = []
    for label, name, section in places:
        try:
            found.append(Place(label, reverse(name), section))
        except NoReverseMatch:
            continue
    return found


def find_section(path: str) -> str:
    """The section that an address lies in, "" for none."""
    if path == "/":
        return "bench"
    return next((section for start, section in _SECTIONS if path.startswith(start)), "")
