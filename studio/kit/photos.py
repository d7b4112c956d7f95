"""A picture that somebody sends in: checked, turned upright, made smaller, and written anew.

Written anew, it holds nothing but what can be seen: no place, no camera, no comment.
"""

import io
import warnings
from contextlib import suppress
from dataclasses import dataclass
from typing import IO

from PIL import Image, ImageCms, ImageOps, UnidentifiedImageError

LARGE_PX = 1600
SMALL_PX = 320
MOST_BYTES = 16_000_000
#: More than a phone takes as a rule; what a picture says of its size is read before any of it is unpacked.
MOST_PIXELS = 50_000_000
_KINDS = ("JPEG", "PNG", "WEBP")
_QUALITY = 82

TOO_HEAVY = f"This file is too large. Send a picture of at most {MOST_BYTES // 1_000_000} MB."
TOO_MANY_PIXELS = (
    f"This picture is too large: it says that it has more than {MOST_PIXELS // 1_000_000} million pixels."
    " Send a smaller one."
)
NO_PICTURE = "This is no picture that the studio can read. Send a JPEG, PNG or WebP."
HEIC = (
    "This is a HEIC picture, which the studio cannot read. Send it as JPEG: the camera's settings offer that."
)
DAMAGED = "This picture is damaged, or was cut short on its way. Send it once more."

# Whatever opens a picture in this program stops at that size, with an error and not with a word in the log.
Image.MAX_IMAGE_PIXELS = MOST_PIXELS
warnings.simplefilter("error", Image.DecompressionBombWarning)
_TOO_LARGE = (Image.DecompressionBombWarning, Image.DecompressionBombError)
# How the files of that family begin, after four bytes of length: ISO/IEC 14496-12 and 23008-12.
_HEIC_BRANDS = {b"heic", b"heix", b"hevc", b"heim", b"heis", b"mif1", b"msf1"}


class NotAPicture(Exception):
    """Why a file is not taken, as a sentence for the person."""


@dataclass(frozen=True, slots=True)
class Photo:
    """A picture as it is kept: two JPEG files, and the pixels of the larger one."""

    large: bytes
    small: bytes
    width: int
    height: int


def read_photo(file: IO[bytes], size_bytes: int) -> Photo:
    """What is kept of the file that was sent in. Raises NotAPicture."""
    if size_bytes > MOST_BYTES:
        raise NotAPicture(TOO_HEAVY)
    try:
        with _open(file) as opened:
            if opened.width * opened.height > MOST_PIXELS:
                raise NotAPicture(TOO_MANY_PIXELS)
            large = _unpack(opened)
    except _TOO_LARGE as bomb:
        raise NotAPicture(TOO_MANY_PIXELS) from bomb
    except NotAPicture:
        raise
    except Exception as broken:
        # A damaged file may make its reader stumble in any way.
        raise NotAPicture(DAMAGED) from broken
    small = large.copy()
    small.thumbnail((SMALL_PX, SMALL_PX))
    return Photo(_write(large), _write(small), large.width, large.height)


def _open(file: IO[bytes]) -> Image.Image:
    try:
        return Image.open(file, formats=_KINDS)
    except UnidentifiedImageError as unknown:
        file.seek(0)
        begins = file.read(12)
        is_heic = begins[4:8] == b"ftyp" and begins[8:12] in _HEIC_BRANDS
        raise NotAPicture(HEIC if is_heic else NO_PICTURE) from unknown


def _unpack(opened: Image.Image) -> Image.Image:
    """Upright, no larger than it is shown, in the colours that every screen knows, on white."""
    profile, image = opened.info.get("icc_profile"), opened
    if opened.has_transparency_data:
        image = opened.convert("RGBA")
    elif opened.mode in ("P", "1"):
        image = opened.convert("RGB")
    elif opened.mode.startswith("I"):
        image = opened.convert("I").point(lambda level: level / 256).convert("L")  # 16 bits to 8
    image.thumbnail((LARGE_PX, LARGE_PX))  # first of all: a JPEG is read at a half, a quarter or an eighth
    image = ImageOps.exif_transpose(image)
    if image.mode == "RGBA":
        white = Image.new("RGBA", image.size, "white")
        image = Image.alpha_composite(white, image).convert("RGB")
    return _to_srgb(image, profile)


def _to_srgb(image: Image.Image, profile: bytes | None) -> Image.Image:
    if profile:
        with suppress(ImageCms.PyCMSError, OSError, ValueError):  # a profile that cannot be used says nothing
            own = ImageCms.ImageCmsProfile(io.BytesIO(profile))
            found = ImageCms.profileToProfile(image, own, ImageCms.createProfile("sRGB"), outputMode="RGB")
            if found is not None:
                return found
    return image if image.mode == "RGB" else image.convert("RGB")


def _write(image: Image.Image) -> bytes:
    image.info.clear()  # a comment in it would be written again
    target = io.BytesIO()
    image.save(target, "JPEG", quality=_QUALITY, optimize=True, progressive=True)
    return target.getvalue()
