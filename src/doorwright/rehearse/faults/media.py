"""Faults of speech and pictures: codecs that are not shared, addresses to which nobody listens."""

from collections.abc import Iterator
from dataclasses import replace
from random import Random
from typing import Final

from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.faults.fault import Boxes, Fault, altered, answers, beside, in_boxes, is_unit
from doorwright.rehearse.looks import Look
from doorwright.rehearse.planned import Planned
from doorwright.sip.formats import STATIC, Codec

_RARE: Final = Codec("G723", 8000)
"""A codec for speech that no unit of the plan has (RFC 3551 §4.5.3)."""
_HIGH: Final = "profile-level-id=640028;packetization-mode=1"
"""High profile at level 4 (RFC 6184 §8.1)."""


def media_faults() -> Iterator[Fault]:
    """Yield the faults of speech and pictures."""
    yield Fault("speech-blocked", "RTP blocked on its way to the unit", Look.ONE_WAY, is_unit, in_boxes(_blocked))
    yield Fault("speech-address", "RTP to the wrong address", Look.ONE_WAY, answers, in_boxes(_speech_address))
    kept = "codec sent that is not shared"
    yield Fault("codec-kept", kept, Look.ONE_WAY, answers, in_boxes(_codec_kept))
    yield Fault("codec-not-shared", "codec not shared", Look.NO_CODEC, _speaks_otherwise, in_boxes(_codec_not_shared))
    yield Fault("picture-codec", "picture codec not shared", Look.NO_PICTURE, _sees, in_boxes(_picture_codec))
    yield Fault(
        "picture-profile", "picture profile not shared", Look.NO_PICTURE, _sees_h264, in_boxes(_picture_profile)
    )


def _cameras(plan: Planned) -> list[Box]:
    return [one for one in plan.boxes.values() if one.role is Role.VCU and one.video]


def _sees(plan: Planned, box: Box) -> bool:
    return bool(answers(plan, box) and box.video and _cameras(plan))


def _sees_h264(plan: Planned, box: Box) -> bool:
    return _sees(plan, box) and any(codec.encoding == "H264" for codec in box.video)


def _speaks_otherwise(plan: Planned, box: Box) -> bool:
    return answers(plan, box) and not any(_RARE in one.audio for one in plan.boxes.values())


def _blocked(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, deaf=True)


def _speech_address(boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """The unit tells of an address that it no longer has, where nobody is."""
    wrong = beside(box.jack.address)
    taken = {one.jack.address for one in boxes.values()}
    while wrong in taken:
        wrong = wrong.rpartition(".")[0] + f".{(int(wrong.rpartition('.')[2]) + 1) % 256}"
    return altered(box, says_address=wrong)


def _codec_kept(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    """The unit sends the codec to which it was set, whatever was agreed."""
    kept = next(codec for codec in STATIC.values() if codec.clock_hz == _RARE.clock_hz and codec not in box.audio)
    return altered(box, insists_on=_RARE if _RARE not in box.audio else kept)


def _codec_not_shared(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(box, audio=(_RARE,))


def _picture_codec(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    others = tuple("H265" if codec.encoding == "H264" else "H264" for codec in box.video)
    return altered(box, video=tuple(Codec(name, 90_000) for name in dict.fromkeys(others)))


def _picture_profile(_boxes: Boxes, box: Box, _chance: Random) -> Boxes:
    return altered(
        box,
        video=tuple(replace(codec, parameters=_HIGH) if codec.encoding == "H264" else codec for codec in box.video),
    )
