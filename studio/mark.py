"""Draws the studio's mark as the pictures that a phone puts on its home screen: `python -m studio.mark`.

The drawing is `mark.svg`, rectangles and nothing else. A phone cuts an icon to its own shape, so the ground goes to
the edges and the rest shrinks into the middle: within a circle of 80 % of the width nothing is cut off
(W3C, Web Application Manifest, "Icon masks and safe zone"; from memory).
"""

import struct
import xml.etree.ElementTree as ET
import zlib
from pathlib import Path

STATIC = Path(__file__).resolve().parent / "static" / "studio"
SIZES_PX = (192, 512)
_WIDTH = 32  # of the drawing, in its own units
_SHRINKS_TO = 0.75
_SIGNATURE = b"\x89PNG\r\n\x1a\n"
_TRUECOLOUR = 2


def draw(size_px: int) -> bytes:
    """The mark as a square PNG of so many pixels a side."""
    ground, *parts = ET.parse(STATIC / "mark.svg").getroot()  # noqa: S314 - the studio's own file
    rows = [[_colour(ground)] * size_px for _ in range(size_px)]
    for part in parts:
        left, top, width, height = (float(part.get(name, 0)) for name in ("x", "y", "width", "height"))
        across = slice(_place(left, size_px), _place(left + width, size_px))
        for row in rows[_place(top, size_px) : _place(top + height, size_px)]:
            row[across] = [_colour(part)] * len(row[across])
    return _write_png(rows)


def _place(at: float, size_px: int) -> int:
    middle = _WIDTH / 2
    return round((middle + (at - middle) * _SHRINKS_TO) * size_px / _WIDTH)


def _colour(part: ET.Element) -> bytes:
    return bytes.fromhex(part.get("fill", "").removeprefix("#"))


def _write_png(rows: list[list[bytes]]) -> bytes:
    """A PNG (ISO/IEC 15948) of eight-bit red, green and blue, no row filtered."""
    header = struct.pack(">IIBBBBB", len(rows[0]), len(rows), 8, _TRUECOLOUR, 0, 0, 0)
    pixels = zlib.compress(b"".join(b"\x00" + b"".join(row) for row in rows), 9)
    return _SIGNATURE + _chunk(b"IHDR", header) + _chunk(b"IDAT", pixels) + _chunk(b"IEND", b"")


def _chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def main() -> None:
    for size_px in SIZES_PX:
        (STATIC / f"mark-{size_px}.png").write_bytes(draw(size_px))


if __name__ == "__main__":
    main()
