"""A picture to send in, and one that is kept."""

import io

from django.contrib.auth.models import User
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db.models import Model
from PIL import Image

from inventory.models import Picture
from inventory.posting.pictures import take_in_pictures
from studio.kit.photos import read_photo


def upload(name: str = "tree.jpg", content: bytes | None = None, colour: str = "gray") -> SimpleUploadedFile:
    return SimpleUploadedFile(name, drawn(colour) if content is None else content, "image/jpeg")


def drawn(colour: str = "gray") -> bytes:
    target = io.BytesIO()
    Image.new("RGB", (40, 30), colour).save(target, "JPEG")
    return target.getvalue()


def keep_picture(shows: str = "other", words: str = "", **of: Model) -> Picture:
    """A picture of one thing: keep_picture(lot=lot)."""
    content = drawn()
    by = User.objects.order_by("pk").first()
    [kept] = take_in_pictures(of, [read_photo(io.BytesIO(content), len(content))], shows, words, by)
    return kept
