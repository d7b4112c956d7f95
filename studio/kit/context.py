"""What every page is given: the studio's name, the way about, the chosen light, and slots that other apps fill.

A slot is a place on the pages of one app that another app fills, so that no page names an address above its own.
A page says `{% slot "plan" %}`. An app that has something for it registers one template when it is ready; that is
given the page's context and the slot's name as `slot`, and shows nothing for slots it does not know.
"""

from contextlib import suppress
from dataclasses import dataclass
from typing import Any

from django.conf import settings
from django.http import HttpRequest
from django.urls import NoReverseMatch, reverse

NAME_BEFORE_SETUP = "Casting studio"
THEME_COOKIE = "theme"
THEMES = ("light", "dark")


@dataclass(frozen=True, slots=True)
class Section:
    """A part of the studio that every page leads to, by the name of its first page; a quiet one stands at the side.

    `paths` are how the addresses begin that belong to it where their view does not say so itself.
    """

    name: str
    label: str
    first_page: str
    paths: tuple[str, ...]
    is_quiet: bool = False


@dataclass(frozen=True, slots=True)
class Place:
    """One way on: what it is called, where it leads, and the section it stands for."""

    label: str
    address: str
    section: str


SECTIONS: list[Section] = []
"""What the way about offers, in its order: each app puts its own here when it is ready."""


def page(request: HttpRequest) -> dict[str, Any]:
    """Context processor. It asks nothing of the database itself: `request.studio` is lazy."""
    user = getattr(request, "user", None)
    signed_in = getattr(user, "is_authenticated", False)
    studio = getattr(request, "studio", None) or None
    theme = request.COOKIES.get(THEME_COOKIE, "")
    return {
        "studio_name": getattr(studio, "name", "") or NAME_BEFORE_SETUP,
        "currency": currency_of(request),
        "section": find_section(request.path),
        "theme": theme if theme in THEMES else "",
        "signed_in": signed_in,
        # Whom this device keeps what is typed for.
        "keeper": f"{settings.STUDIO_NAME}-{getattr(user, 'pk', '')}" if signed_in else "",
        "places": find_places(False) if signed_in else [],
        "quiet_places": find_places(True) if signed_in else [],
    }


def currency_of(request: HttpRequest) -> str:
    """The code of the studio's currency, "" before there is a studio."""
    return getattr(getattr(request, "studio", None) or None, "currency", "")


def find_places(quiet: bool) -> list[Place]:
    """The loud or the quiet sections whose first page has an address; the others are left out."""
    found = []
    for section in SECTIONS:
        if section.is_quiet == quiet:
            with suppress(NoReverseMatch):
                found.append(Place(section.label, reverse(section.first_page), section.name))
    return found


def find_section(path: str) -> str:
    """The section that an address lies in, "" for none; the first of all lies at "/" itself."""
    if path == "/":
        return SECTIONS[0].name if SECTIONS else ""
    return next((section.name for section in SECTIONS if path.startswith(section.paths)), "")


_templates: list[str] = []


def fill_slots(template: str) -> None:
    """Show this template in every slot."""
    if template not in _templates:
        _templates.append(template)


def slot_templates() -> tuple[str, ...]:
    return tuple(_templates)
