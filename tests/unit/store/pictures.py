"""Small pictures for tests, written byte by byte as the standards say, with and without what is not picture."""

import base64
import struct
import zlib

PLACE = b"GPS 51.5N 0.1W"
"""Stands for what tells where a picture was taken: it must not come through."""

# An 8 by 8 grey baseline JPEG: JFIF, one table of each kind, one scan (T.81 annex B), written by hand.
_JFIF = b"\xff\xe0\x00\x10JFIF\0\x01\x01\0\0\x01\0\x01\0\0"
_DQT = b"\xff\xdb\x00\x43\0" + bytes(64 * [16])
_SOF = b"\xff\xc0\x00\x0b\x08" + struct.pack(">HH", 8, 8) + b"\x01\x01\x11\0"
_DHT = (
    b"\xff\xc4\x00\x14\x00"
    + bytes([1] + [0] * 15)
    + b"\x00"
    + b"\xff\xc4\x00\x14\x10"
    + bytes([1] + [0] * 15)
    + b"\x00"
)
_SCAN = b"\xff\xda\x00\x08\x01\x01\0\0\x3f\0" + b"\x3f\xff\x00\x3f"
# The frame, the tables and the scan; the scan holds FF 00, a stuffed byte, which is no marker (T.81 §B.1.1.5).


def jpeg(*more: bytes, side_px: int | None = None, behind: bytes = b"") -> bytes:
    frame = (
        _SOF if side_px is None else b"\xff\xc0\x00\x0b\x08" + struct.pack(">HH", side_px, side_px) + b"\x01\x01\x11\0"
    )
    return b"\xff\xd8" + _JFIF + b"".join(more) + _DQT + frame + _DHT + _SCAN + b"\xff\xd9" + behind


def exif(orientation: int, order: str = ">") -> bytes:
    """An Exif block (CP-3451 §4.6) that tells the way up, and a place."""
    tiff = (b"MM\0*" if order == ">" else b"II*\0") + struct.pack(
        f"{order}IHHHIHHI", 8, 1, 0x0112, 3, 1, orientation, 0, 0
    )
    block = b"Exif\0\0" + tiff + PLACE
    return b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block


def comment(text: bytes) -> bytes:
    return b"\xff\xfe" + struct.pack(">H", len(text) + 2) + text


def chunk(kind: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))


def png(*more: bytes, side_px: int = 1) -> bytes:
    header = chunk(b"IHDR", struct.pack(">IIBBBBB", side_px, side_px, 8, 0, 0, 0, 0))
    return b"\x89PNG\r\n\x1a\n" + header + b"".join(more) + chunk(b"IDAT", zlib.compress(b"\0\0")) + chunk(b"IEND", b"")


def webp(*chunks: tuple[bytes, bytes]) -> bytes:
    body = b"WEBP" + b"".join(
        kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2) for kind, data in chunks
    )
    return b"RIFF" + struct.pack("<I", len(body)) + body


def vp8x(flags: int, side_px: int = 1) -> tuple[bytes, bytes]:
    side = (side_px - 1).to_bytes(3, "little")
    return b"VP8X", bytes((flags, 0, 0, 0)) + side + side


VP8L = (b"VP8L", b"\x2f\0\0\0\0\x07\x10\x11\x11\x88\x88\xfe\x07\0")
"""A lossless picture of one pixel."""
REAL_PNG = base64.b64decode(
    "iVBORw0KGgoAAAANSUhEUgAAAAEAAAABCAYAAAAfFcSJAAAADUlEQVR42mNk+M9QDwADhgGAWjR9awAAAABJRU5ErkJggg=="
)
"""One pixel, as browsers draw it."""
