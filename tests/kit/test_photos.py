"""Pictures sent in: what is refused, and what is left of those that are taken.

The tags of place and camera are those of Exif 2.3 (CIPA DC-008); orientation 6 means that the first row is the right
side of what is seen (its table 4.6.4 A).
"""

import io
import struct
import zlib
from typing import Any

import pytest
from PIL import Image, ImageCms

from studio.kit import photos
from studio.kit.photos import LARGE_PX, SMALL_PX, NotAPicture, Photo, read_photo

ORIENTATION, MAKE, GPS, GPS_LATITUDE = 0x0112, 0x010F, 0x8825, 2
RED, BLUE = (220, 30, 30), (30, 30, 220)


def picture(kind: str = "JPEG", size: tuple[int, int] = (60, 40), mode: str = "RGB", **more: Any) -> bytes:
    """Red at the left, blue at the right."""
    image = Image.new("RGB", size, RED)
    image.paste(BLUE, (size[0] // 2, 0, *size))
    target = io.BytesIO()
    image.convert(mode).save(target, kind, **more)
    return target.getvalue()


def with_place(orientation: int = 1) -> bytes:
    exif = Image.Exif()
    exif[ORIENTATION], exif[MAKE] = orientation, "A camera"
    exif.get_ifd(GPS)[GPS_LATITUDE] = (51.0, 28.0, 38.0)
    return picture(exif=exif, comment=b"at the bench", xmp=b"<x:xmpmeta xmlns:x='adobe:ns:meta/'/>")


def read(content: bytes) -> Photo:
    return read_photo(io.BytesIO(content), len(content))


def refusal(content: bytes) -> str:
    with pytest.raises(NotAPicture) as refused:
        read(content)
    return str(refused.value)


def opened(content: bytes) -> Image.Image:
    image = Image.open(io.BytesIO(content))
    image.load()
    return image


def is_about(pixel: Any, colour: tuple[int, int, int]) -> bool:
    return all(abs(one - other) < 12 for one, other in zip(pixel, colour, strict=True))


def bomb(width: int, height: int) -> bytes:
    """A PNG of a few bytes that says how large it is: https://www.w3.org/TR/png/#11IHDR"""

    def chunk(name: bytes, body: bytes) -> bytes:
        return struct.pack(">I", len(body)) + name + body + struct.pack(">I", zlib.crc32(name + body))

    header = struct.pack(">IIBBBBB", width, height, 8, 2, 0, 0, 0)
    return (
        b"\x89PNG\r\n\x1a\n"
        + chunk(b"IHDR", header)
        + chunk(b"IDAT", zlib.compress(b""))
        + chunk(b"IEND", b"")
    )


def test_a_picture_with_a_place_in_it_comes_out_without() -> None:
    sent = opened(with_place())
    assert sent.getexif().get_ifd(GPS) and sent.getexif()[MAKE]
    kept = read(with_place())
    for content in (kept.large, kept.small):
        image = opened(content)
        assert dict(image.getexif()) == {}
        assert set(image.info) <= {
            "jfif",
            "jfif_version",
            "jfif_unit",
            "jfif_density",
            "progressive",
            "progression",
        }
        assert b"Exif" not in content and b"camera" not in content and b"bench" not in content
        assert b"xmpmeta" not in content


def test_it_is_turned_upright() -> None:
    kept = read(with_place(orientation=6))
    image = opened(kept.large)
    assert image.size == (40, 60) == (kept.width, kept.height)
    assert is_about(image.getpixel((20, 10)), RED) and is_about(image.getpixel((20, 50)), BLUE)


@pytest.mark.parametrize(
    "content",
    [
        picture(),
        picture("PNG"),
        picture("WEBP"),
        picture("JPEG", mode="CMYK"),
        picture("JPEG", mode="L"),
        picture("PNG", mode="P"),
        picture("PNG", mode="RGBA"),
        picture("PNG", mode="I;16"),
        picture("PNG", mode="1"),
        picture("PNG", size=(1, 1)),
    ],
    ids="jpeg png webp cmyk grey palette clear deep bits dot".split(),
)
def test_every_common_kind_is_taken_and_kept_as_jpeg(content: bytes) -> None:
    kept = read(content)
    assert {(opened(one).format, opened(one).mode) for one in (kept.large, kept.small)} == {("JPEG", "RGB")}


def test_what_is_clear_stands_on_white() -> None:
    target = io.BytesIO()
    Image.new("RGBA", (20, 20), (0, 0, 0, 0)).save(target, "PNG")
    assert is_about(opened(read(target.getvalue()).large).getpixel((10, 10)), (255, 255, 255))


def test_it_is_no_larger_than_it_is_shown_and_keeps_its_shape() -> None:
    kept = read(picture(size=(3200, 1600)))
    assert (kept.width, kept.height) == opened(kept.large).size == (LARGE_PX, LARGE_PX // 2)
    assert opened(kept.small).size == (SMALL_PX, SMALL_PX // 2)


def test_colours_of_another_profile_are_turned_into_those_of_every_screen() -> None:
    # Red and blue change places in it: the profile's own names of the columns of its first two colours do.
    profile = ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()
    swapped = profile.replace(b"rXYZ", b"?XYZ").replace(b"bXYZ", b"rXYZ").replace(b"?XYZ", b"bXYZ")
    kept = opened(read(picture(icc_profile=swapped)).large)
    assert "icc_profile" not in kept.info
    red, _, blue = kept.getpixel((10, 20))
    assert blue > 180 > red


def test_a_profile_that_cannot_be_used_is_passed_over() -> None:
    assert is_about(opened(read(picture(icc_profile=b"no profile")).large).getpixel((10, 20)), RED)


def test_a_picture_that_says_it_is_huge_is_refused_before_it_is_unpacked(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    monkeypatch.setattr(Image.Image, "load", lambda image: pytest.fail("it was unpacked"))
    for size in ((10_000, 10_000), (10_000, 5_001), (60_000, 60_000)):
        assert "million pixels" in refusal(bomb(*size))


def test_what_is_no_picture_is_told_apart_from_what_is_damaged() -> None:
    assert refusal(b"Dear studio, this is a letter.") == photos.NO_PICTURE
    assert refusal(b"") == photos.NO_PICTURE
    assert refusal(b'<svg xmlns="http://www.w3.org/2000/svg"><script>1</script></svg>') == photos.NO_PICTURE
    assert refusal(picture("GIF")) == photos.NO_PICTURE
    assert refusal(b"\0\0\0\x18ftypheic" + bytes(40)) == photos.HEIC
    assert refusal(picture(size=(400, 400))[:-900]) == photos.DAMAGED
    assert refusal(picture("PNG", size=(400, 400))[:-60]) == photos.DAMAGED
    assert refusal(bomb(100, 100)) == photos.DAMAGED


def test_a_file_too_heavy_is_refused_before_it_is_read() -> None:
    class Unread(io.BytesIO):
        def read(self, *_: Any) -> bytes:
            raise AssertionError("it was read")

    with pytest.raises(NotAPicture, match="at most 16 MB"):
        read_photo(Unread(), photos.MOST_BYTES + 1)
