"""Pictures of the demo: drawn, so that nobody's work is shown, and a label sheet to print on."""

import io
from math import cos, pi, sin

from django.contrib.auth.models import User
from django.db.models import Model
from PIL import Image, ImageDraw, ImageFilter

from inventory.models import Cast, Design, LabelSheet, Picture, Piece
from inventory.posting.pictures import take_in_pictures
from studio.kit.photos import read_photo

_SIZE = 900
_BENCH, _SHADOW, _SILVER, _LIGHT = (112, 100, 88), (70, 62, 55), (196, 198, 200), (236, 237, 238)
_WAX, _STEEL, _PLASTER, _CRACK = (58, 104, 84), (120, 124, 128), (226, 222, 212), (60, 40, 34)
_LATEST = 3
_DRAWN = ("Fern stud", "Ivy leaf brooch")
_Shows = Picture.Shows


def add_pictures(by: User) -> None:
    """The tree of the cast under way, the mould that cracked, two designs, and the latest finished pieces."""
    LabelSheet.objects.create(name="An A4 sheet in 24")
    _keep(
        _draw_tree(),
        _Shows.TREE,
        "fern studs and seed pods on their stem",
        by,
        cast=Cast.objects.latest("number"),
    )
    failed = Cast.objects.get(outcome=Cast.Outcome.FAILED)
    _keep(_draw_mould(), _Shows.FAILED, "the mould, cracked from rim to rim", by, cast=failed)
    for name in _DRAWN:
        _keep(
            _draw_piece(len(name)),
            _Shows.DESIGN,
            f"{name} from above",
            by,
            design=Design.objects.get(name=name),
        )
    for piece in Piece.objects.filter(void=False, state=Piece.State.FINISHED).order_by("-pk")[:_LATEST]:
        _keep(_draw_piece(piece.pk), _Shows.PIECE, f"{piece.name} from above", by, piece=piece)


def _keep(image: Image.Image, shows: str, words: str, by: User, **of: Model) -> None:
    file = io.BytesIO()
    image.filter(ImageFilter.GaussianBlur(1)).save(file, "JPEG")
    size = file.tell()
    file.seek(0)
    take_in_pictures(of, [read_photo(file, size)], shows, words, by)


def _bench() -> tuple[Image.Image, ImageDraw.ImageDraw]:
    image = Image.new("RGB", (_SIZE, _SIZE), _BENCH)
    return image, ImageDraw.Draw(image)


def _leaf(x: int, y: int, length: int, turn: float) -> list[tuple[int, int]]:
    """The outline of a leaf from (x, y) on, in pixels; `turn` in radians."""
    ways = [
        (part / 12 * length, side * sin(part / 12 * pi) * length / 5)
        for side in (1, -1)
        for part in range(13)
    ]
    ways[13:] = ways[:12:-1]
    return [
        (round(x + along * cos(turn) - out * sin(turn)), round(y + along * sin(turn) + out * cos(turn)))
        for along, out in ways
    ]


def _draw_tree() -> Image.Image:
    image, pen = _bench()
    pen.line((450, 860, 450, 120), fill=_WAX, width=38)
    for place in range(6):
        y, side = 700 - place * 100, 1 if place % 2 else -1
        pen.polygon(_leaf(450, y, 260, -pi / 2 + side * pi / 3), fill=_WAX)
    return image


def _draw_mould() -> Image.Image:
    image, pen = _bench()
    pen.ellipse((110, 110, 790, 790), fill=_STEEL)
    pen.ellipse((150, 150, 750, 750), fill=_PLASTER)
    pen.line([(170, 380), (300, 430), (390, 400), (520, 500), (610, 470), (740, 540)], fill=_CRACK, width=16)
    pen.ellipse((390, 390, 510, 510), fill=_CRACK)
    return image


def _draw_piece(seed: int) -> Image.Image:
    image, pen = _bench()
    turn = -pi / 2 + (seed % 5 - 2) / 8
    for shift, colour in ((14, _SHADOW), (0, _SILVER)):
        pen.polygon(_leaf(450 + shift, 780 + shift, 640, turn), fill=colour)
    tip = (450 + round(600 * cos(turn)), 780 + round(600 * sin(turn)))
    pen.line(((450, 760), tip), fill=_LIGHT, width=10)
    return image
