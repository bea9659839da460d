"""Photographs as they may enter a book: JPEG, PNG or WebP, judged by content, bounded, and bare of what is not picture.

A phone writes beside the picture where it was taken, when, with which camera and sometimes a second picture or a film.
Nothing of that is kept: only the parts that a reader needs to draw the picture are copied, so what is not known here
cannot pass. Of a JPEG the way up is kept, in an Exif block that holds nothing else. Bytes in, bytes out.

JPEG: ITU-T T.81 annex B; Exif: JEITA CP-3451 §4.6; PNG: W3C Portable Network Graphics §5; WebP: RFC 9649 §2 (all from
memory).
"""

import hashlib
import re
import struct
import zlib
from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any, Final

from doorwright.kernel.errors import Refused

MOST_BYTES: Final = 12 * 1024 * 1024
"""What the page sends is a tenth of it; a phone's own file, sent without the page's program, fits."""
SIDE_MOST_PX: Final = 10_000

_JPEG: Final = b"\xff\xd8\xff"
_PNG: Final = b"\x89PNG\r\n\x1a\n"
_REMEDY: Final = "Take it again, or save it as JPEG, PNG or WebP."


@dataclass(frozen=True, slots=True)
class Photograph:
    """A picture that may be kept: its media type and its bytes."""

    media_type: str
    content: bytes

    @property
    def sha256(self) -> str:
        """The fingerprint of what is kept (FIPS 180-4), lower-case hexadecimal."""
        return hashlib.sha256(self.content).hexdigest()

    def row(self) -> dict[str, Any]:
        """Return the row of the table of attachments."""
        return {"sha256": self.sha256, "media_type": self.media_type, "content": self.content}


def photograph(sent: bytes) -> Photograph:
    """Return a picture as it may be kept.

    Raises:
        Refused: it is none of the three kinds, breaks off, has no size, or is too large.
    """
    if len(sent) > MOST_BYTES:
        raise Refused(
            f"the photograph has {len(sent) / 1024 / 1024:.1f} MiB; at most {MOST_BYTES // 1024 // 1024} are taken",
            remedy="Take it with fewer pixels.",
        )
    try:
        if sent.startswith(_JPEG):
            return Photograph("image/jpeg", _bare_jpeg(sent))
        if sent.startswith(_PNG):
            return Photograph("image/png", _bare_png(sent))
        if sent[:4] == b"RIFF" and sent[8:12] == b"WEBP":
            return Photograph("image/webp", _bare_webp(sent))
    except (struct.error, IndexError):
        raise Refused("the photograph breaks off", remedy=_REMEDY) from None
    raise Refused("this is no photograph that can be kept", remedy=_REMEDY)


def _see_size(width_px: int, height_px: int) -> None:
    if not (1 <= width_px <= SIDE_MOST_PX and 1 <= height_px <= SIDE_MOST_PX):
        raise Refused(
            f"the photograph is {width_px} by {height_px} pixels; 1 to {SIDE_MOST_PX} a side are taken", remedy=_REMEDY
        )


# JPEG

_SOI, _EOI, _SOS, _APP0, _APP1, _APP2, _APP14 = 0xD8, 0xD9, 0xDA, 0xE0, 0xE1, 0xE2, 0xEE
_FRAMES: Final = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_DRAWN: Final = _FRAMES | {0xC4, 0xCC, 0xDA, 0xDB, 0xDD, _APP0, _APP14}
"""Frames, tables, scans, restart intervals (T.81 table B.1), JFIF, and the colours' order that Adobe's block tells."""
_NEXT_MARKER: Final = re.compile(rb"\xff+[^\x00\xd0-\xd7\xff]")
_ORIENTATION: Final = 0x0112


def _bare_jpeg(sent: bytes) -> bytes:
    kept = [b""]
    orientation, has_frame, has_scan = 1, False, False
    at = 2
    while True:
        found = _NEXT_MARKER.match(sent, at)
        if found is None:
            raise Refused("the photograph is damaged: a JPEG's marker is not where it should be", remedy=_REMEDY)
        at, marker = found.end(), sent[found.end() - 1]
        if marker == _EOI:
            break
        (length,) = struct.unpack_from(">H", sent, at)
        segment = sent[at : at + length]
        if length < 2 or len(segment) < length:
            raise struct.error
        at += length
        if marker in _FRAMES:
            height_px, width_px = struct.unpack_from(">HH", segment, 3)
            _see_size(width_px, height_px)
            has_frame = True
        if marker == _APP1 and segment[2:8] == b"Exif\0\0":
            orientation = _orientation(segment[8:])
        if marker in _DRAWN or (marker == _APP2 and segment[2:14] == b"ICC_PROFILE\0"):
            kept.append(bytes((0xFF, marker)) + segment)
        if marker == _SOS:
            has_scan = True
            end = _NEXT_MARKER.search(sent, at)
            if end is None:
                raise struct.error
            kept.append(sent[at : end.start()])
            at = end.start()
    if not (has_frame and has_scan):
        raise Refused("the photograph is damaged: it holds no picture", remedy=_REMEDY)
    kept[0] = bytes((0xFF, _SOI)) + _way_up(orientation)
    return b"".join((*kept, bytes((0xFF, _EOI))))


def _orientation(tiff: bytes) -> int:
    """Return the way up that an Exif block tells, 1 to 8; 1, upright, where it tells none."""
    order = {b"II": "<", b"MM": ">"}.get(tiff[:2])
    if order is None:
        return 1
    try:
        (first,) = struct.unpack_from(f"{order}I", tiff, 4)
        (count,) = struct.unpack_from(f"{order}H", tiff, first)
        for entry in range(count):
            tag, kind, _, value = struct.unpack_from(f"{order}HHIH", tiff, first + 2 + 12 * entry)
            if tag == _ORIENTATION and kind == 3 and 1 <= value <= 8:
                return int(value)
    except struct.error:
        return 1
    return 1


def _way_up(orientation: int) -> bytes:
    if orientation == 1:
        return b""
    exif = b"Exif\0\0MM\0*" + struct.pack(">IHHHIHHI", 8, 1, _ORIENTATION, 3, 1, orientation, 0, 0)
    return bytes((0xFF, _APP1)) + struct.pack(">H", len(exif) + 2) + exif


# PNG

_PNG_DRAWN: Final = frozenset(
    (b"IHDR", b"PLTE", b"IDAT", b"IEND", b"tRNS", b"cHRM", b"gAMA", b"iCCP", b"sBIT", b"sRGB", b"bKGD", b"pHYs")
)


def _bare_png(sent: bytes) -> bytes:
    kept = [_PNG]
    at = len(_PNG)
    seen: set[bytes] = set()
    while b"IEND" not in seen:
        length, kind = struct.unpack_from(">I4s", sent, at)
        chunk = sent[at : at + 12 + length]
        if len(chunk) < 12 + length:
            raise struct.error
        if zlib.crc32(chunk[4:-4]) != int.from_bytes(chunk[-4:], "big"):
            raise Refused("the photograph is damaged: a PNG's checksum is wrong", remedy=_REMEDY)
        if not seen and kind != b"IHDR":
            break
        if kind == b"IHDR":
            _see_size(*struct.unpack_from(">II", chunk, 8))
        if kind in _PNG_DRAWN:
            kept.append(chunk)
        seen.add(kind)
        at += 12 + length
    if not {b"IHDR", b"IDAT"} <= seen:
        raise Refused("the photograph is damaged: it holds no picture", remedy=_REMEDY)
    return b"".join(kept)


# WebP

_WEBP_DRAWN: Final = frozenset((b"VP8 ", b"VP8L", b"VP8X", b"ALPH", b"ICCP"))
_WITH_EXIF, _WITH_XMP, _MOVING = 0x08, 0x04, 0x02


def _bare_webp(sent: bytes) -> bytes:
    kept = []
    has_picture = False
    for kind, written in _webp_chunks(sent):
        data = written
        if kind == b"VP8X":
            if data[0] & _MOVING:
                raise Refused("this picture moves", remedy="Send a still photograph.")
            _see_size(int.from_bytes(data[4:7], "little") + 1, int.from_bytes(data[7:10], "little") + 1)
            data = bytes((written[0] & ~(_WITH_EXIF | _WITH_XMP),)) + written[1:]
        if kind == b"VP8 ":
            if data[3:6] != b"\x9d\x01\x2a":
                raise Refused("the photograph is damaged: it holds no picture", remedy=_REMEDY)
            width_px, height_px = struct.unpack_from("<HH", data, 6)
            _see_size(width_px & 0x3FFF, height_px & 0x3FFF)
        if kind == b"VP8L":
            if data[0] != 0x2F:
                raise Refused("the photograph is damaged: it holds no picture", remedy=_REMEDY)
            (sides,) = struct.unpack_from("<I", data, 1)
            _see_size((sides & 0x3FFF) + 1, (sides >> 14 & 0x3FFF) + 1)
        has_picture |= kind in {b"VP8 ", b"VP8L"}
        if kind in _WEBP_DRAWN:
            kept.append(kind + struct.pack("<I", len(data)) + data + b"\0" * (len(data) % 2))
    if not has_picture:
        raise Refused("the photograph is damaged: it holds no picture", remedy=_REMEDY)
    body = b"WEBP" + b"".join(kept)
    return b"RIFF" + struct.pack("<I", len(body)) + body


def _webp_chunks(sent: bytes) -> Iterator[tuple[bytes, bytes]]:
    (size,) = struct.unpack_from("<I", sent, 4)
    end = 8 + size
    if len(sent) < end:
        raise struct.error
    at = 12
    while at + 8 <= end:
        kind, length = struct.unpack_from("<4sI", sent, at)
        data = sent[at + 8 : at + 8 + length]
        if len(data) < length:
            raise struct.error
        yield kind, data
        at += 8 + length + length % 2
