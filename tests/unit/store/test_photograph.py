"""Photographs: what is no picture is refused, and of a picture nothing but the picture is kept."""

import struct

import pytest

from doorwright.kernel.errors import Refused
from doorwright.store.photograph import MOST_BYTES, SIDE_MOST_PX, photograph
from tests.unit.store.pictures import PLACE, REAL_PNG, VP8L, chunk, comment, exif, jpeg, png, vp8x, webp


def test_a_plain_picture_is_kept_byte_for_byte() -> None:
    for sent, kind in ((jpeg(), "jpeg"), (png(), "png"), (REAL_PNG, "png"), (webp(VP8L), "webp")):
        kept = photograph(sent)
        assert (kept.media_type, kept.content) == (f"image/{kind}", sent)


@pytest.mark.parametrize(
    "sent",
    [
        jpeg(exif(1)),
        jpeg(comment(PLACE), b"\xff\xed" + struct.pack(">H", len(PLACE) + 2) + PLACE),
        jpeg(b"\xff\xe2" + struct.pack(">H", len(PLACE) + 6) + b"MPF\0" + PLACE),
        jpeg(behind=b"a film of the moment " + PLACE),
        png(chunk(b"eXIf", PLACE), chunk(b"tEXt", b"where\0" + PLACE)),
        png() + PLACE,
        webp(vp8x(0x0C), VP8L, (b"EXIF", PLACE), (b"XMP ", PLACE)),
        webp(VP8L) + PLACE,
    ],
)
def test_what_is_not_picture_does_not_come_through(sent: bytes) -> None:
    assert PLACE in sent
    kept = photograph(sent)
    assert PLACE not in kept.content
    assert photograph(kept.content) == kept  # what is kept is whole, and has nothing more to lose


def test_the_flags_of_a_webp_say_that_nothing_is_beside_the_picture() -> None:
    # RFC 9649 §2.7: bit 3 of the first byte of VP8X is Exif, bit 2 is XMP; bit 4, alpha, stays.
    kept = photograph(webp(vp8x(0x1C), VP8L, (b"EXIF", PLACE)))
    assert kept.content[20] == 0x10


@pytest.mark.parametrize("order", [">", "<"])
def test_the_way_up_of_a_jpeg_is_kept_alone(order: str) -> None:
    # Orientation 6: turn it a quarter to the right (CP-3451 §4.6.4 A).
    kept = photograph(jpeg(exif(6, order))).content
    assert PLACE not in kept
    assert kept[2:4] == b"\xff\xe1"
    assert kept.count(struct.pack(">HHIHH", 0x0112, 3, 1, 6, 0)) == 1
    assert photograph(kept).content == kept


def test_a_way_up_that_cannot_be_read_is_upright() -> None:
    for block in (b"Exif\0\0XX", b"Exif\0\0MM\0*\0\0", b"Exif\0\0MM\0*" + struct.pack(">IH", 8, 9)):
        kept = photograph(jpeg(b"\xff\xe1" + struct.pack(">H", len(block) + 2) + block)).content
        assert kept == jpeg()


def test_a_jpeg_with_several_scans_and_restarts_is_read_to_its_end() -> None:
    scan = b"\xff\xda\x00\x08\x01\x01\0\0\x3f\0" + b"\x11\xff\xd0\x22\xff\x00"
    sent = jpeg()[:-2] + scan + b"\xff\xff\xd9"  # FF may be repeated before a marker (T.81 §B.1.1.2)
    kept = photograph(sent).content
    assert kept.endswith(scan + b"\xff\xd9")


@pytest.mark.parametrize(
    ("sent", "why"),
    [
        (b"", "no photograph"),
        (b"GIF89a" + bytes(20), "no photograph"),
        (b"<svg onload='alert(1)'/>", "no photograph"),
        (b"%PDF-1.7", "no photograph"),
        (b"RIFF\x04\0\0\0WAVE", "no photograph"),
        (jpeg()[:40], "breaks off"),
        (jpeg()[:-2], "breaks off"),
        (b"\xff\xd8\xff\xd9", "no picture"),
        (b"\xff\xd8\xff\xe0\x00\x04ab" + b"xx", "marker"),
        (jpeg(side_px=0), "0 by 0"),
        (jpeg(side_px=SIDE_MOST_PX + 1), "10001 by 10001"),
        (png()[:30], "breaks off"),
        (png(side_px=SIDE_MOST_PX + 1), "10001 by 10001"),
        (png().replace(b"IDATx", b"IDATy"), "checksum"),
        (b"\x89PNG\r\n\x1a\n" + chunk(b"IDAT", b"") + chunk(b"IEND", b""), "no picture"),
        (webp(), "no picture"),
        (webp((b"VP8 ", bytes(10))), "no picture"),
        (webp((b"VP8L", bytes(10))), "no picture"),
        (webp(vp8x(0x02), VP8L), "moves"),
        (webp(vp8x(0, SIDE_MOST_PX + 1), VP8L), "10001 by 10001"),
        (webp(VP8L)[:-4], "breaks off"),
        (jpeg() + bytes(MOST_BYTES), "at most 12"),
    ],
)
def test_what_is_no_picture_is_refused_with_a_reason(sent: bytes, why: str) -> None:
    with pytest.raises(Refused, match=why) as caught:
        photograph(sent)
    assert caught.value.remedy


def test_a_lossy_webp_is_measured() -> None:
    # RFC 6386 §9.1: after the start code, 14 bits of width and of height.
    frame = b"\x10\0\0\x9d\x01\x2a" + struct.pack("<HH", 20, 30) + bytes(4)
    assert photograph(webp((b"VP8 ", frame))).media_type == "image/webp"
