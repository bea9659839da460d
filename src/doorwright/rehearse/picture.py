"""The picture of a call: the visitor as the camera sees them, sent as whole pictures that come or do not come.

A picture is many packets, and a screen that lacks one of them shows nothing until the next whole picture. One packet of
the rehearsal stands for all of them: it is lost where any of them would be.
"""

from collections.abc import Callable
from typing import Final

from doorwright.model.profile import Profile
from doorwright.sip.errors import PeerError
from doorwright.sip.formats import Codec
from doorwright.sip.offer import Agreed
from doorwright.sip.rtp import RtpPacket, parse_rtp

PACKETS_COUNT: Final = 8
"""How many packets a whole picture takes (our own choice; at 2 Mb/s and 25 pictures a second the mean is 7)."""
SHOWN_COUNT: Final = 3
"""How many whole pictures are sent, one a second: one that comes is enough."""
_CLOCK_HZ: Final = 90_000  # RFC 6184 §8.2.1
_PARAMETERS: Final = {"H264": "profile-level-id=42e01f;packetization-mode=1"}
"""Constrained baseline at level 3.1 (RFC 6184 §8.1, our own choice: data sheets name the codec alone)."""
_WHOLE: Final = b"\x0c\xff\x80"  # filler data (ITU-T H.264 table 7-1, type 12, from memory): a whole unit, no picture


def codecs_of(profile: Profile | None) -> tuple[Codec, ...]:
    """Return the codecs of a unit type's camera or screen."""
    names = profile.video if profile is not None else ()
    return tuple(Codec(name, _CLOCK_HZ, parameters=_PARAMETERS.get(name, "")) for name in names)


def lost_whole(lost_ratio: float) -> float:
    """Return the share of whole pictures lost where single packets are lost by a share, each by chance of its own."""
    kept: float = (1.0 - lost_ratio) ** PACKETS_COUNT
    return 1.0 - kept


def show(agreed: Agreed | None, send: Callable[[float, bytes], None]) -> None:
    """Send a few whole pictures, each with its delay in seconds; nothing where nothing is agreed."""
    if agreed is None or not agreed.direction.sends:
        return
    number = agreed.codec[0]
    for count in range(SHOWN_COUNT):
        packet = RtpPacket(
            payload_type=number, sequence=count, timestamp=count * _CLOCK_HZ, source=2, payload=_WHOLE, marker=True
        )
        send(float(count), bytes(packet))


def is_seen(agreed: Agreed | None, data: bytes) -> bool:
    """Say whether a packet is a picture that was agreed on."""
    if agreed is None:
        return False
    try:
        return parse_rtp(data).payload_type in {number for number, _ in agreed.receive}
    except PeerError:
        return False
