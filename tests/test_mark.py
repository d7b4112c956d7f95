"""What a phone puts on its home screen: the studio's own mark, in its own colours, from the studio itself."""

import json
import struct
import zlib
from typing import Any

import pytest
from django.template.loader import render_to_string
from django.test import Client, RequestFactory

from studio.mark import SIZES_PX, STATIC, draw
from tests.kit.test_look import DARK_BY_DEVICE, LIGHT

INK, PIECES = b"\x22\x25\x2a", b"\x6e\xa9\xcc"  # of mark.svg


def read_png(picture: bytes) -> list[bytes]:
    """The rows of an unfiltered PNG of eight-bit colours (ISO/IEC 15948: each row begins with its filter, here 0)."""
    width, height = struct.unpack(">II", picture[16:24])
    start = picture.index(b"IDAT") + 4
    (length,) = struct.unpack(">I", picture[start - 8 : start - 4])
    pixels = zlib.decompress(picture[start : start + length])
    rows = [pixels[n * (3 * width + 1) :][: 3 * width + 1] for n in range(height)]
    assert {row[0] for row in rows} == {0}
    return [row[1:] for row in rows]


def pixel(rows: list[bytes], x: int, y: int) -> bytes:
    return rows[y][3 * x : 3 * x + 3]


@pytest.mark.parametrize("size", SIZES_PX)
def test_the_pictures_are_what_the_script_draws(size: int) -> None:
    kept = (STATIC / f"mark-{size}.png").read_bytes()
    assert read_png(kept) == read_png(draw(size))


def test_the_mark_stands_where_no_phone_cuts_it_off() -> None:
    rows = read_png(draw(512))
    drawn = [(x, y) for y in range(512) for x in range(512) if pixel(rows, x, y) != INK]
    assert max((x + 0.5 - 256) ** 2 + (y + 0.5 - 256) ** 2 for x, y in drawn) < (0.4 * 512) ** 2
    assert pixel(rows, 200, 256) == PIECES


def fetch(name: str) -> tuple[str, bytes]:
    """The kind and the content of a file that the studio serves."""
    answer: Any = Client().get(f"/static/studio/{name}")
    content = b"".join(answer.streaming_content)
    answer.close()
    return answer["Content-Type"].split(";")[0], content


@pytest.mark.django_db  # closing an answer looks after the connection
def test_the_manifest_and_its_pictures_come_from_the_studio_with_their_right_kind() -> None:
    kind, content = fetch("studio.webmanifest")
    assert kind == "application/manifest+json"
    manifest = json.loads(content)
    assert (manifest["start_url"], manifest["display"]) == ("/", "standalone")
    assert manifest["background_color"] == manifest["theme_color"] == LIGHT["ground"]
    for icon in manifest["icons"]:
        assert fetch(icon["src"])[0] == icon["type"]
    assert {icon["sizes"] for icon in manifest["icons"]} == {"192x192", "512x512", "any"}


@pytest.mark.parametrize(
    ("theme", "colours"),
    [
        ("", [("ground", LIGHT, "light"), ("ground", DARK_BY_DEVICE, "dark")]),
        ("light", [("ground", LIGHT, "")]),
        ("dark", [("ground", DARK_BY_DEVICE, "")]),
    ],
)
def test_the_bar_of_the_phone_has_the_colour_of_the_page(
    theme: str, colours: list[tuple[str, dict[str, str], str]]
) -> None:
    request: Any = RequestFactory().get("/")
    request.COOKIES["theme"] = theme
    html = render_to_string("base.html", request=request)
    assert html.count('name="theme-color"') == len(colours)
    for token, tokens, scheme in colours:
        media = f' media="(prefers-color-scheme: {scheme})"' if scheme else ""
        assert f'<meta name="theme-color" content="{tokens[token]}"{media}>' in html
