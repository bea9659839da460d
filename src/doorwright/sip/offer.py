"""Agreeing on streams: offers, answers, holding and changing (RFC 3264). Numbers of sections are those of RFC 3264."""

import re
from collections.abc import Sequence
from dataclasses import dataclass, replace
from enum import Enum

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.formats import DYNAMIC_NUMBERS, EVENTS, STATIC, Codec, alike, attributes_of, formats_of, in_common
from doorwright.sip.grammar import bounded
from doorwright.sip.sdp import Attribute, Connection, Description, Media, Origin


class Direction(Enum):
    """Which way a stream flows, seen from whoever says it (RFC 8866 §6.7)."""

    SENDRECV = "sendrecv"
    SENDONLY = "sendonly"
    RECVONLY = "recvonly"
    INACTIVE = "inactive"

    @property
    def sends(self) -> bool:
        """Whether the one who says it sends."""
        return self in {Direction.SENDRECV, Direction.SENDONLY}

    @property
    def receives(self) -> bool:
        """Whether the one who says it receives."""
        return self in {Direction.SENDRECV, Direction.RECVONLY}

    @staticmethod
    def of(*, sends: bool, receives: bool) -> "Direction":
        """Return the direction of these two."""
        if sends:
            return Direction.SENDRECV if receives else Direction.SENDONLY
        return Direction.RECVONLY if receives else Direction.INACTIVE


def answered(offered: Direction, wanted: Direction) -> Direction:
    """Return the direction for the answer: what we want, as far as the offer lets it (§6.1)."""
    return Direction.of(sends=offered.receives and wanted.sends, receives=offered.sends and wanted.receives)


def held(direction: Direction) -> Direction:
    """Return the direction that puts the other side on hold: nothing is received any more (§8.4)."""
    return Direction.of(sends=direction.sends, receives=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Stream:
    """What we are willing to do in one stream: codecs in order of preference, our port, our direction."""

    kind: str
    port: int
    codecs: tuple[Codec, ...]
    direction: Direction = Direction.SENDRECV
    protocol: str = "RTP/AVP"
    packet_ms: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Agreed:
    """One stream as both sides have it, seen from ours.

    `send` are the codecs we may send, with the other side's payload numbers and in its order; `receive` those that may
    come, with ours. `direction` is ours; `packet_ms` is the length of packets that the other side would like.
    """

    kind: str
    protocol: str
    direction: Direction
    local_port: int
    address: str
    port: int
    control_port: int
    send: tuple[tuple[int, Codec], ...]
    receive: tuple[tuple[int, Codec], ...]
    packet_ms: float | None = None

    @property
    def codec(self) -> tuple[int, Codec]:
        """The first codec that carries the stream itself: the one to send."""
        return next(each for each in self.send if not each[1].beside)

    @property
    def events_number(self) -> int | None:
        """The payload number for keys, None if they are not agreed; its clock is that of the codec (RFC 4733 §2.2)."""
        clock_hz = self.codec[1].clock_hz
        matching = (n for n, each in self.send if each.encoding.lower() == EVENTS and each.clock_hz == clock_hz)
        return next(matching, None)


def direction_of(session: Description, media: Media) -> Direction:
    """Return a stream's direction: its own attribute, else the session's, else both ways (RFC 8866 §6.7)."""
    for attributes in (media.attributes, session.attributes):
        for each in attributes:
            if each.value is None and each.name in {direction.value for direction in Direction}:
                return Direction(each.name)
    return Direction.SENDRECV


def _offered_direction(session: Description, media: Media) -> Direction:
    # §8.4: RFC 2543 put on hold with the address 0.0.0.0, to which nothing can be sent
    direction = direction_of(session, media)
    connection = session.connection_of(media)
    return held(direction) if connection is not None and connection.address == "0.0.0.0" else direction  # noqa: S104


def make_offer(
    streams: Sequence[Stream | None], *, origin: Origin, connection: Connection, previous: Description | None = None
) -> Description:
    """Return an offer of the streams; None is a stream that is over (§8.2).

    Args:
        streams: one for each stream; those of the previous description first, in its order. What is missing is over.
        origin: who we are; the session's number and version are those of `previous`, if there is one.
        connection: where we listen.
        previous: our last description in this session. Its payload numbers keep their meaning (§8.3.2), none of its
            streams is taken away (§8), and the version grows by one if anything changed.
    """
    before = previous.media if previous else ()
    wanted = [*streams, *([None] * (len(before) - len(streams)))]
    media = tuple(
        _offered(stream, before[index] if index < len(before) else None) for index, stream in enumerate(wanted)
    )
    offer = Description(origin=origin, connection=connection, media=media)
    return offer if previous is None else following(previous, offer)


def following(previous: Description, changed: Description) -> Description:
    """Return a description that may follow ours: same origin, a version greater by one if anything differs (§8)."""
    same = replace(changed, origin=previous.origin)
    if same == previous:
        return previous
    return replace(changed, origin=replace(previous.origin, version=previous.origin.version + 1))


def _offered(stream: Stream | None, before: Media | None) -> Media:
    if stream is None:
        if before is None:
            raise LocalError("a stream that never was cannot be over")
        return Media(kind=before.kind, port=0, protocol=before.protocol, formats=before.formats)
    if not stream.codecs or not 0 < stream.port <= 65535:
        raise LocalError("a stream is offered with a port and at least one codec")
    if before is not None and before.kind != stream.kind and before.port != 0:
        raise LocalError("the place of a stream is taken by another kind only after it is over (§8.1)")
    known = formats_of(before) if before is not None and before.kind == stream.kind else ()
    return _described(stream, _numbered(stream.codecs, known), stream.direction)


def _numbered(codecs: tuple[Codec, ...], known: tuple[tuple[int, Codec], ...]) -> tuple[tuple[int, Codec], ...]:
    taken = {number for number, _ in known}
    numbered: list[tuple[int, Codec]] = []
    for codec in codecs:
        here = [number for number, other in known if alike(codec, other)]
        here += [number for number, other in STATIC.items() if alike(codec, other)]
        here += [number for number in DYNAMIC_NUMBERS if number not in taken]
        free = [number for number in here if number not in {each for each, _ in numbered}]
        if not free:
            raise LocalError("there are more codecs than dynamic payload numbers")
        numbered.append((free[0], codec))
    return tuple(numbered)


def _described(stream: Stream, formats: tuple[tuple[int, Codec], ...], direction: Direction) -> Media:
    packets = () if stream.packet_ms is None else (Attribute("ptime", f"{stream.packet_ms:g}"),)
    return Media(
        kind=stream.kind,
        port=stream.port,
        protocol=stream.protocol,
        formats=tuple(str(number) for number, _ in formats),
        attributes=(*attributes_of(formats), *packets, Attribute(direction.value)),
    )


def make_answer(
    offer: Description,
    streams: Sequence[Stream],
    *,
    origin: Origin,
    connection: Connection,
    previous: Description | None = None,
) -> Description:
    """Return the answer to an offer (§6): a line for each offered stream, in its order, port 0 for what is refused.

    Codecs stand in the order of the offer, which §6.1 advises so that both directions use the same one, and under the
    numbers of the offer. Each of our streams answers one offered stream at most, the first that it fits.

    Raises:
        PeerError: 488, when there are live streams on offer and none fits.
    """
    free = list(streams)
    media = []
    for each in offer.media:
        answer = _answer_one(offer, each, free)
        media.append(answer or Media(kind=each.kind, port=0, protocol=each.protocol, formats=each.formats))
    if any(each.port for each in offer.media) and not any(each.port for each in media):
        raise PeerError("no offered stream can be taken", code=488, clause="RFC 3261 §13.3.1.3")
    # §6: the times of the answer are those of the offer
    description = Description(origin=origin, connection=connection, times=offer.times, media=tuple(media))
    return description if previous is None else following(previous, description)


def _answer_one(offer: Description, media: Media, free: list[Stream]) -> Media | None:
    connection = offer.connection_of(media)
    if media.port == 0 or connection is None or "/" in connection.address:  # over; nowhere; or multicast, not ours
        return None
    for place, stream in enumerate(free):
        if (stream.kind, stream.protocol) != (media.kind, media.protocol):
            continue
        formats = []
        for number, offered in formats_of(media):
            ours = next((codec for codec in stream.codecs if alike(offered, codec)), None)
            common = in_common(offered, ours) if ours is not None else None
            if common is not None:
                formats.append((number, common))
        # A stream of keys alone, as RFC 3264 §10.1 adds one, carries no speech: refused, its keys go beside the speech.
        if any(not codec.beside for _, codec in formats):
            del free[place]
            direction = answered(_offered_direction(offer, media), stream.direction)
            return _described(stream, tuple(formats), direction)
    return None


def faults_of(answer: Description, *, offer: Description) -> tuple[PeerError, ...]:
    """Return what is wrong with an answer to our offer; its times are not compared, for nothing hangs on them."""
    if len(answer.media) != len(offer.media):
        counts = f"{len(answer.media)} streams answer {len(offer.media)}"
        return (PeerError(f"{counts}: there must be one for each", code=488, clause="RFC 3264 §6"),)
    faults = []
    for place, (ours, theirs) in enumerate(zip(offer.media, answer.media, strict=True), start=1):
        problem, clause = _fault_of(offer, ours, answer, theirs)
        if problem:
            faults.append(PeerError(f"stream {place}: {problem}", code=488, clause=f"RFC 3264 {clause}"))
    return tuple(faults)


def _fault_of(offer: Description, ours: Media, answer: Description, theirs: Media) -> tuple[str, str]:
    if (ours.kind, ours.protocol) != (theirs.kind, theirs.protocol):
        return "the answer is of another kind or protocol", "§6"
    if ours.port == 0 or theirs.port == 0:
        return ("a stream that is over was answered as alive" if theirs.port else ""), "§6"
    if answer.connection_of(theirs) is None:
        return "it is not said where to send", "§6.1"
    known = formats_of(ours)
    both = [codec for _, codec in formats_of(theirs) if any(alike(codec, each) for _, each in known)]
    if not any(not codec.beside for codec in both):
        return "no codec of the answer was offered", "§6.1"
    said = direction_of(answer, theirs)
    if said is not answered(direction_of(offer, ours), said):
        return f"{said.value} does not answer {direction_of(offer, ours).value}", "§6.1"
    return "", ""


def agree(ours: Description, theirs: Description) -> tuple[Agreed | None, ...]:
    """Return each stream as agreed, None for one that is refused or over; who offered does not matter.

    Raises:
        PeerError: the two have not the same streams, or a live one shares no codec.
    """
    wrong = len(ours.media) != len(theirs.media)
    if wrong:
        raise PeerError("offer and answer have not the same count of streams", code=488, clause="RFC 3264 §6")
    return tuple(_agree_one(ours, mine, theirs, other) for mine, other in zip(ours.media, theirs.media, strict=True))


def _agree_one(ours: Description, mine: Media, theirs: Description, other: Media) -> Agreed | None:
    if mine.port == 0 or other.port == 0:
        return None
    connection = theirs.connection_of(other)
    here, there = formats_of(mine), formats_of(other)
    send = tuple((number, codec) for number, codec in there if any(alike(codec, each) for _, each in here))
    receive = tuple((number, codec) for number, codec in here if any(alike(codec, each) for _, each in there))
    if connection is None or all(codec.beside for _, codec in send):
        raise PeerError(f"the {other.kind} stream shares no codec or has no address", code=488, clause="RFC 3264 §6.1")
    return Agreed(
        kind=mine.kind,
        protocol=mine.protocol,
        direction=answered(_offered_direction(theirs, other), direction_of(ours, mine)),
        local_port=mine.port,
        address=connection.address,
        port=other.port,
        control_port=_control_port(other),
        send=send,
        receive=receive,
        packet_ms=_packet_ms(other),
    )


def _control_port(media: Media) -> int:
    told = media.values_of("rtcp")
    if not told:
        return min(media.port + 1, 65535)  # RFC 3550 §11
    return bounded(told[0].split(" ")[0], what="the port of a=rtcp", low=1, high=65535, clause="RFC 3605 §2.1")


def _packet_ms(media: Media) -> float | None:
    told = media.values_of("ptime")
    if not told:
        return None
    if not re.fullmatch(r"[0-9]{1,5}(\.[0-9]{1,6})?", told[0]) or not float(told[0]):
        raise PeerError("the length of packets is not a number above 0", clause="RFC 8866 §6.4")
    return float(told[0])
