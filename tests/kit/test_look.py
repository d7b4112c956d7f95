"""The look: contrast held by arithmetic, and a page frame that every page shares."""

import re
from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest
from django.contrib.auth.models import AnonymousUser, User
from django.contrib.staticfiles import finders
from django.template.loader import render_to_string
from django.test import Client, RequestFactory
from django.urls import reverse

from studio.kit import context

CHART_PARTS = "pieces back filings lost mould kiln time other".split()


@pytest.fixture(autouse=True)
def without_a_studio(settings: Any) -> None:
    """The kit stands below the studio's subjects: neither their middleware nor their addresses are needed."""
    settings.ROOT_URLCONF = "studio.kit.urls"
    settings.MIDDLEWARE = [name for name in settings.MIDDLEWARE if not name.startswith("inventory.")]


def read_css() -> str:
    path = finders.find("studio/studio.css")
    assert isinstance(path, str)
    return Path(path).read_text(encoding="utf-8")


def tokens_after(start: str) -> dict[str, str]:
    """The colour tokens of the rule that begins with this text."""
    css = read_css()
    begin = css.index(start) + len(start)
    return dict(re.findall(r"--([a-z-]+): (#[0-9a-f]{3,6});", css[begin : css.index("}", begin)]))


LIGHT = tokens_after("\n:root {")
DARK_BY_DEVICE = tokens_after('\n  :root:not([data-theme="light"]) {')
DARK_BY_CHOICE = tokens_after('\n:root[data-theme="dark"] {')


def luminance(colour: str) -> float:
    """Relative luminance as WCAG 2.2 defines it (from memory)."""
    parts = [int(colour[at : at + 2], 16) / 255 for at in (1, 3, 5)]
    red, green, blue = (
        part / 12.92 if part <= 0.04045 else ((part + 0.055) / 1.055) ** 2.4 for part in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def contrast(one: str, other: str) -> float:
    dark, light = sorted((luminance(one), luminance(other)))
    return (light + 0.05) / (dark + 0.05)


def test_contrast_is_reckoned_as_the_guidelines_do() -> None:
    assert contrast("#000000", "#ffffff") == pytest.approx(21)
    # The lightest grey that passes on white (from memory).
    assert contrast("#767676", "#ffffff") == pytest.approx(4.54, abs=0.01)


@pytest.mark.parametrize("theme", [LIGHT, DARK_BY_DEVICE], ids=["light", "dark"])
@pytest.mark.parametrize("paper", ["ground", "sheet"])
@pytest.mark.parametrize("ink", ["ink", "quiet", "press", "press-over", "caution", "wrong"])
def test_words_can_be_read_on_every_paper(theme: dict[str, str], paper: str, ink: str) -> None:
    assert contrast(theme[ink], theme[paper]) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK_BY_DEVICE], ids=["light", "dark"])
@pytest.mark.parametrize("press", ["press", "press-over"])
def test_words_can_be_read_on_a_button(theme: dict[str, str], press: str) -> None:
    assert contrast(theme["press-ink"], theme[press]) >= 4.5


@pytest.mark.parametrize("theme", [LIGHT, DARK_BY_DEVICE], ids=["light", "dark"])
@pytest.mark.parametrize("paper", ["ground", "sheet"])
@pytest.mark.parametrize("part", CHART_PARTS)
def test_parts_of_a_picture_stand_out_from_every_paper(theme: dict[str, str], paper: str, part: str) -> None:
    assert contrast(theme[f"part-{part}"], theme[paper]) >= 3


def test_dark_is_the_same_dark_by_device_and_by_choice() -> None:
    assert DARK_BY_DEVICE == DARK_BY_CHOICE
    assert DARK_BY_DEVICE.keys() == LIGHT.keys()


def test_pictures_are_printed_in_the_light_colours() -> None:
    printed = tokens_after('  :root[data-theme="dark"] {\n    color-scheme: light;')
    assert {f"part-{part}": LIGHT[f"part-{part}"] for part in CHART_PARTS}.items() <= printed.items()


def test_the_style_sheet_asks_nothing_of_another_machine() -> None:
    assert "//" not in re.sub(r"/\*.*?\*/", "", read_css(), flags=re.DOTALL)
    assert "@import" not in read_css()


@pytest.mark.parametrize("face", ["Regular", "Bold", "Italic"])
def test_the_typeface_is_served_from_its_package(face: str) -> None:
    assert f'url("../fonts/AtkinsonHyperlegible-{face}.ttf")' in read_css()
    assert finders.find(f"fonts/AtkinsonHyperlegible-{face}.ttf")


def base(path: str = "/casts/", **request_parts: Any) -> str:
    request = RequestFactory().get(path)
    for name, value in request_parts.items():
        setattr(request, name, value)
    return render_to_string("base.html", request=request)


MIRA = User(username="mira", pk=1)
ALDER_YARD = SimpleNamespace(name="Alder Yard studio", currency="GBP")


def test_a_page_begins_with_a_way_past_the_header() -> None:
    html = base(user=MIRA)
    assert html.index('class="skip" href="#content"') < html.index("<header")
    assert '<main id="content"' in html


def test_a_page_names_its_studio() -> None:
    assert "Alder Yard studio" in base(user=MIRA, studio=ALDER_YARD)


@pytest.mark.parametrize("studio", [None, SimpleNamespace(name="", currency="")])
def test_before_set_up_the_studio_has_a_plain_name(studio: Any) -> None:
    assert "Casting studio" in base(user=MIRA, studio=studio)
    assert "Casting studio" in base(user=MIRA)


def test_nobody_signed_in_sees_no_way_about() -> None:
    html = base(user=AnonymousUser())
    assert "<nav" not in html
    assert reverse("sign-out") not in html


def test_the_way_about_marks_where_one_is(monkeypatch: pytest.MonkeyPatch) -> None:
    casts = context.Section("casts", "Casts", "sign-in", ("/casts/",))
    monkeypatch.setattr(context, "SECTIONS", [casts, context.Section("stock", "Stock", "theme", ())])
    assert '<a href="/sign-in/" aria-current="page">Casts</a>' in base("/sign-in/", user=MIRA)
    within = base("/casts/40/", user=MIRA)
    assert '<a href="/sign-in/" aria-current="true">Casts</a>' in within
    assert '<a href="/theme/">Stock</a>' in within


def test_a_section_without_an_address_is_left_out(monkeypatch: pytest.MonkeyPatch) -> None:
    door = context.Section("door", "Sign in", "sign-in", ())
    monkeypatch.setattr(context, "SECTIONS", [door, context.Section("none", "Nowhere", "nowhere:at-all", ())])
    assert context.find_places(quiet=False) == [context.Place("Sign in", "/sign-in/", "door")]
    assert context.find_places(quiet=True) == []


def test_an_app_declares_its_section_and_every_page_leads_there(monkeypatch: pytest.MonkeyPatch) -> None:
    wax = context.Section("wax", "Wax", "theme", ("/wax/",), is_quiet=True)
    monkeypatch.setattr(context, "SECTIONS", [*context.SECTIONS, wax])
    assert '<a href="/theme/" aria-current="true">Wax</a>' in base("/wax/3/", user=MIRA)


@pytest.mark.parametrize(
    ("path", "section"),
    [
        ("/", "bench"),
        ("/casts/40/", "casts"),
        ("/firings/28/", "casts"),
        ("/stock/lots/17/", "stock"),
        ("/ledger/", "stock"),
        ("/pieces/3/", "pieces"),
        ("/buying/", "buying"),
        ("/reports/loss/", "reports"),
        ("/setup/", "setup"),
        ("/help/", "help"),
        ("/sign-in/", ""),
    ],
)
def test_an_address_lies_in_one_section(path: str, section: str) -> None:
    assert context.find_section(path) == section


def test_the_chosen_colours_stand_on_the_page_from_the_start() -> None:
    assert 'data-theme="dark"' in base(user=MIRA, COOKIES={"theme": "dark"})
    assert "data-theme" not in base(user=MIRA, COOKIES={"theme": '"><script>'})


@pytest.mark.parametrize("name", ["400", "403", "403_csrf", "404", "500"])
def test_pages_for_when_something_is_amiss_need_nothing_but_themselves(name: str) -> None:
    html = render_to_string(f"{name}.html")
    assert "Casting studio" in html
    assert 'href="/"' in html


def test_no_page_frame_has_a_style_or_a_script_of_its_own() -> None:
    html = base(user=MIRA, studio=ALDER_YARD)
    assert "style=" not in html
    assert "<style" not in html
    assert re.findall(r"<script(?![^>]*src=)", html) == []


def test_colours_are_chosen_and_forgotten(client: Client) -> None:
    response = client.post(reverse("theme"), {"theme": "dark", "next": "/casts/?page=2"})
    assert response["Location"] == "/casts/?page=2"
    assert client.cookies["theme"].value == "dark"
    client.post(reverse("theme"), {"theme": ""})
    assert client.cookies["theme"].value == ""


@pytest.mark.parametrize("elsewhere", ["https://example.org/", "//example.org", "javascript:1", ""])
def test_choosing_colours_never_leads_off_the_studio(client: Client, elsewhere: str) -> None:
    response = client.post(reverse("theme"), {"theme": "light", "next": elsewhere})
    assert response["Location"] == "/"
