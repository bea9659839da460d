"""What two units agree on for a call: codecs for speech and pictures, addresses, ports (RFC 3264).

A unit says the same of itself in each call, so each offer, each answer and what follows from both is worked out once:
these are functions of their arguments alone.
"""

from dataclasses import dataclass
from functools import lru_cache
from typing import Final
from urllib.parse import quote, unquote

from doorwright.rehearse.box import Box, Role
from doorwright.sip.errors import PeerError
from doorwright.sip.formats import EVENTS, Codec
from doorwright.sip.offer import Agreed, Direction, Stream, agree, make_answer, make_offer
from doorwright.sip.sdp import Connection, Origin, parse_description

_CLOCK_HZ: Final = 8000
_KEYS: Final = Codec(EVENTS, _CLOCK_HZ, parameters="0-15")


@dataclass(frozen=True, slots=True)
class End:
    """One end of a call as it tells of itself: who it is, where it listens, what it can send and take."""

    user: str
    address: str
    speech_port: int
    picture_port: int
    audio: tuple[Codec, ...]
    video: tuple[Codec, ...]
    shows: bool
    """Whether it sends pictures (a camera); else it takes them (a screen)."""


@dataclass(frozen=True, slots=True)
class Settled:
    """What follows from an offer and its answer, seen from one end: both streams, None where there is none."""

    other: str
    speech: Agreed | None
    picture: Agreed | None


def end_of(box: Box) -> End:
    """Return a box as an end of calls."""
    return End(
        user=box.user,
        address=box.says_address or box.jack.address,
        speech_port=box.media_port,
        picture_port=box.picture_port,
        audio=box.audio,
        video=box.video,
        shows=box.role is Role.VCU,
    )


@lru_cache(maxsize=4096)
def offer_of(end: End) -> bytes:
    """Return what an end offers."""
    return bytes(make_offer(_streams(end), origin=_origin(end), connection=Connection(address=end.address)))


@lru_cache(maxsize=16384)
def answer_of(end: End, offer: bytes) -> bytes | None:
    """Return the answer of an end to an offer; None where the offer cannot be read or no speech is shared."""
    try:
        theirs = parse_description(offer)
        ours = make_answer(theirs, _streams(end), origin=_origin(end), connection=Connection(address=end.address))
    except PeerError:
        return None
    speaks = any(media.kind == "audio" and media.port for media in ours.media)
    return bytes(ours) if speaks else None


@lru_cache(maxsize=16384)
def settled(ours: bytes, theirs: bytes) -> Settled | None:
    """Return what follows from both descriptions; None where they cannot be read or do not fit each other."""
    try:
        here, there = parse_description(ours), parse_description(theirs)
        streams = agree(here, there)
    except PeerError:
        return None
    by_kind = {stream.kind: stream for stream in streams if stream is not None}
    return Settled(unquote(there.origin.username), by_kind.get("audio"), by_kind.get("video"))


def _origin(end: End) -> Origin:
    return Origin(username=quote(end.user) or "-", session=1, version=1, address=end.address)


def _streams(end: End) -> list[Stream]:
    speech = Stream(kind="audio", port=end.speech_port, codecs=(*end.audio, _KEYS))
    if not end.video:
        return [speech]
    way = Direction.SENDONLY if end.shows else Direction.RECVONLY
    return [speech, Stream(kind="video", port=end.picture_port, codecs=end.video, direction=way)]
