"""Formats of streams: payload numbers and what they stand for (RFC 3551, RFC 8866 §6.6), when two are alike."""

from dataclasses import dataclass, replace

from doorwright.sip.dtmf import parse_event_list
from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import bounded
from doorwright.sip.sdp import Attribute, Media

EVENTS = "telephone-event"
_BESIDE = {EVENTS, "cn", "red"}
"""Formats that only go beside one that carries speech: keys, comfort noise (RFC 3389), repetitions (RFC 2198)."""
DYNAMIC_NUMBERS = range(96, 128)  # RFC 3551 §3


@dataclass(frozen=True, slots=True)
class Codec:
    """An encoding with its clock, channels and, as written, its format parameters (the text of `a=fmtp`)."""

    encoding: str
    clock_hz: int
    channels_count: int = 1
    parameters: str = ""

    @property
    def beside(self) -> bool:
        """Whether it only goes beside another one (keys, comfort noise, repetitions)."""
        return self.encoding.lower() in _BESIDE


STATIC: dict[int, Codec] = {  # RFC 3551 §6, tables 4 and 5; G722's clock is 8000 for history's sake (§4.5.2)
    0: Codec("PCMU", 8000),
    3: Codec("GSM", 8000),
    4: Codec("G723", 8000),
    5: Codec("DVI4", 8000),
    6: Codec("DVI4", 16000),
    7: Codec("LPC", 8000),
    8: Codec("PCMA", 8000),
    9: Codec("G722", 8000),
    10: Codec("L16", 44100, 2),
    11: Codec("L16", 44100),
    12: Codec("QCELP", 8000),
    13: Codec("CN", 8000),
    14: Codec("MPA", 90000),
    15: Codec("G728", 8000),
    16: Codec("DVI4", 11025),
    17: Codec("DVI4", 22050),
    18: Codec("G729", 8000),
    25: Codec("CelB", 90000),
    26: Codec("JPEG", 90000),
    28: Codec("nv", 90000),
    31: Codec("H261", 90000),
    32: Codec("MPV", 90000),
    33: Codec("MP2T", 90000),
    34: Codec("H263", 90000),
}


def formats_of(media: Media) -> tuple[tuple[int, Codec], ...]:
    """Return an RTP stream's payload numbers and codecs in its order, without dynamic numbers that nothing explains.

    Raises:
        PeerError: a payload number is none, or an rtpmap cannot be read.
    """
    mapped = dict(_mapped(text) for text in media.values_of("rtpmap"))
    parameters = {}
    for text in media.values_of("fmtp"):
        format_name, _, told = text.partition(" ")
        parameters[format_name] = told.strip()
    found: dict[int, Codec] = {}
    for text in media.formats:
        number = bounded(text, what="a payload number", high=127, clause="RFC 3551 §6")
        codec = mapped.get(number) or STATIC.get(number)
        if codec is not None:
            found.setdefault(number, replace(codec, parameters=parameters.get(text, "")))
    return tuple(found.items())


def _mapped(text: str) -> tuple[int, Codec]:
    number, _, told = text.partition(" ")
    encoding, *rest = told.strip().split("/")
    if not encoding or not 1 <= len(rest) <= 2:
        raise PeerError("an rtpmap has a number, and an encoding with its clock", clause="RFC 8866 §6.6")
    clock_hz = bounded(rest[0], what="the clock of an rtpmap", low=1, high=1 << 31, clause="RFC 8866 §6.6")
    channels_count = 1
    if len(rest) == 2:
        channels_count = bounded(rest[1], what="the channels of an rtpmap", low=1, high=255, clause="RFC 8866 §6.6")
    number_read = bounded(number, what="the number of an rtpmap", high=127, clause="RFC 8866 §6.6")
    return number_read, Codec(encoding, clock_hz, channels_count)


def attributes_of(formats: tuple[tuple[int, Codec], ...]) -> tuple[Attribute, ...]:
    """Return the rtpmap and fmtp lines of the formats; static numbers get an rtpmap too, as RFC 3264 §5.1 advises."""
    lines = []
    for number, codec in formats:
        channels = f"/{codec.channels_count}" if codec.channels_count > 1 else ""
        lines.append(Attribute("rtpmap", f"{number} {codec.encoding}/{codec.clock_hz}{channels}"))
        if codec.parameters:
            lines.append(Attribute("fmtp", f"{number} {codec.parameters}"))
    return tuple(lines)


def parameters_of(codec: Codec) -> dict[str, str]:
    """Return the format parameters by small name, for formats that write them "name=value;name=value"."""
    told = {}
    for piece in codec.parameters.split(";"):
        name, equals, value = piece.partition("=")
        if name.strip():
            told[name.strip().lower()] = value.strip() if equals else ""
    return told


def alike(one: Codec, other: Codec) -> bool:
    """Return whether two codecs are the same format, so that what one sends the other can take.

    Names are compared without regard to case (RFC 8866 §6.6). Most format parameters only declare what their writer can
    take; those of H264 that name another format are compared (RFC 6184 §8.2.2): packetization mode and profile.
    """
    same = (one.encoding.lower(), one.clock_hz, one.channels_count)
    if same != (other.encoding.lower(), other.clock_hz, other.channels_count):
        return False
    if same[0] != "h264":
        return True
    mine, theirs = parameters_of(one), parameters_of(other)
    if (mine.get("packetization-mode") or "0") != (theirs.get("packetization-mode") or "0"):
        return False
    profiles = _h264_profile(mine), _h264_profile(theirs)
    return profiles[0] is not None and profiles[0] == profiles[1]


# RFC 6184 §8.1, table 5 (from memory): which profile_idc and bits of profile-iop name which profile.
_H264_PROFILES: tuple[tuple[int, int, int, str], ...] = (  # idc, mask, bits, profile
    (0x42, 0b0100_1111, 0b0100_0000, "constrained baseline"),
    (0x4D, 0b1000_1111, 0b1000_0000, "constrained baseline"),
    (0x58, 0b1100_1111, 0b1100_0000, "constrained baseline"),
    (0x42, 0b0100_1111, 0b0000_0000, "baseline"),
    (0x58, 0b1100_1111, 0b1000_0000, "baseline"),
    (0x4D, 0b1010_1111, 0b0000_0000, "main"),
    (0x58, 0b1100_1111, 0b0000_0000, "extended"),
)
_H264_UNSAID = "42000A"  # §8.1: baseline at level 1 where nothing is said


def _h264_profile(parameters: dict[str, str]) -> str | None:
    """Return the profile; None where what is said is not six hexadecimal digits."""
    text = parameters.get("profile-level-id") or _H264_UNSAID
    if len(text) != 6 or not all(each in "0123456789abcdefABCDEF" for each in text):
        return None
    idc, iop = int(text[:2], 16), int(text[2:4], 16)
    for known_idc, mask, bits, profile in _H264_PROFILES:
        if idc == known_idc and iop & mask == bits:
            return profile
    return text[:4].upper()


def in_common(offered: Codec, ours: Codec) -> Codec | None:
    """Return the codec for an answer: the offered name with the parameters that we can keep to; None if there are none.

    Events are those of both sides (RFC 4733 §2.4.1). The level of H264 is the lower of the two (RFC 6184 §8.2.2: an
    answer may lower it), with the offered name of the profile.
    """
    name = offered.encoding.lower()
    if name == EVENTS:
        common = parse_event_list(offered.parameters) & parse_event_list(ours.parameters)
        return replace(offered, parameters=_ranges(common)) if common else None
    if name == "h264":
        theirs = parameters_of(offered).get("profile-level-id") or _H264_UNSAID
        mine = parameters_of(ours).get("profile-level-id") or _H264_UNSAID
        lower = min(theirs[4:].upper(), mine[4:].upper())
        kept = {**parameters_of(ours), "profile-level-id": theirs[:4] + lower}
        return replace(offered, parameters=";".join(f"{key}={value}" if value else key for key, value in kept.items()))
    return replace(offered, parameters=ours.parameters)


def _ranges(codes: frozenset[int]) -> str:
    pieces: list[list[int]] = []
    for code in sorted(codes):
        if pieces and pieces[-1][-1] == code - 1:
            pieces[-1] = [pieces[-1][0], code]
        else:
            pieces.append([code])
    return ",".join("-".join(map(str, piece)) for piece in pieces)
