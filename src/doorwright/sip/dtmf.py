"""Keys pressed during a call: events in the speech stream (RFC 4733), and bodies of INFO (common practice)."""

import re
import struct
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import ceil

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.rtp import RtpPacket, later_by

KEYS = "0123456789*#ABCD"
"""The sixteen keys; the place of each is its event code (RFC 4733 §3.2, table 3)."""
DURATION_MAX_TICKS = 0xFFFF
END_PACKETS_COUNT = 3  # §2.5.1.4: the final packet is sent three times, at the interval of the updates
_SEQUENCES, _TIMESTAMPS = 1 << 16, 1 << 32


def code_of(key: str) -> int:
    """Return the event code of a key (RFC 4733 §3.2); letters may be small."""
    code = KEYS.find(key.upper()) if len(key) == 1 else -1
    if code < 0:
        raise LocalError(f"{key!r} is not one of the sixteen keys {KEYS}")
    return code


def key_of(code: int) -> str | None:
    """Return the key of an event code; None for 16 and above, which are no keys."""
    return KEYS[code] if 0 <= code < len(KEYS) else None


@dataclass(frozen=True, slots=True, kw_only=True)
class TelephoneEvent:
    """The four octets of RFC 4733 §2.3: event 8 bits, end 1, reserved 1, volume 6, duration 16.

    `level_dbm0` is minus the volume field: 0 down to -63. The duration counts from the packet's timestamp.
    """

    code: int
    ended: bool
    duration_ticks: int
    level_dbm0: int = -10

    def __bytes__(self) -> bytes:
        if not (
            0 <= self.code < 256 and -63 <= self.level_dbm0 <= 0 and 0 <= self.duration_ticks <= DURATION_MAX_TICKS
        ):
            raise LocalError("a telephone event has a code below 256, 0 to -63 dBm0 and 0 to 65535 ticks")
        return struct.pack("!BBH", self.code, self.ended << 7 | -self.level_dbm0, self.duration_ticks)


def parse_event(payload: bytes) -> TelephoneEvent:
    """Return the event in a packet's payload; the reserved bit is ignored, as §2.3.3 asks."""
    if len(payload) != 4:
        raise PeerError(f"a telephone event has 4 octets, not {len(payload)}", clause="RFC 4733 §2.3")
    code, flags, duration_ticks = struct.unpack("!BBH", payload)
    return TelephoneEvent(
        code=code, ended=bool(flags & 0x80), duration_ticks=duration_ticks, level_dbm0=-(flags & 0x3F)
    )


def key_packets(
    key: str,
    *,
    payload_type: int,
    source: int,
    sequence: int,
    timestamp: int,
    duration_ms: float = 100.0,
    interval_ms: float = 50.0,
    clock_hz: int = 8000,
    level_dbm0: int = -10,
) -> tuple[tuple[float, RtpPacket], ...]:
    """Return the packets that say one press of a key, each with its moment in seconds after the press.

    The first carries the marker, all of a segment the timestamp of its start; updates follow at the interval, the last
    with the end bit three times (§2.5.1.2 to §2.5.1.4). A press beyond 65 535 ticks goes on in a new segment.

    Args:
        key: one of the sixteen.
        payload_type: the number agreed for telephone-event.
        source: our synchronisation source, that of the speech.
        sequence: number of the first packet; the speech goes on after the last.
        timestamp: the media clock at the press.
        duration_ms: how long the key is down; receivers need at least 40 ms (ITU-T Q.24, from memory).
        interval_ms: between updates; §2.5.1.1 recommends 50 ms.
        clock_hz: rate of the media clock, that of the speech beside it.
        level_dbm0: level of the tone.
    """
    if not (duration_ms > 0 and interval_ms > 0 and clock_hz > 0):
        raise LocalError("a press, its updates and the media clock are longer than nothing")
    code = code_of(key)
    total_ticks = max(round(duration_ms * clock_hz / 1000), 1)
    packets = []
    for count, (begun_ticks, at_ticks, ended) in enumerate(_updates(total_ticks, interval_ms * clock_hz / 1000)):
        event = TelephoneEvent(
            code=code, ended=ended, duration_ticks=min(at_ticks, total_ticks) - begun_ticks, level_dbm0=level_dbm0
        )
        packet = RtpPacket(
            payload_type=payload_type,
            sequence=(sequence + count) % _SEQUENCES,
            timestamp=(timestamp + begun_ticks) % _TIMESTAMPS,
            source=source,
            payload=bytes(event),
            marker=count == 0,  # §2.5.1.3: never on a later segment of the same event
        )
        packets.append((at_ticks / clock_hz, packet))
    return tuple(packets)


def _updates(total_ticks: int, interval_ticks: float) -> Iterator[tuple[int, int, bool]]:
    """Yield start of segment, moment, and whether the event is over, for each packet; ticks from the press on."""
    begun_ticks = 0
    for step in range(1, ceil(total_ticks / interval_ticks) + 1):
        at_ticks = min(round(step * interval_ticks), total_ticks)
        while at_ticks - begun_ticks > DURATION_MAX_TICKS:
            # The whole segment is reported without the end bit. §2.5.1.4 sends a segment's last packet three times
            # at the interval; here at once, so that it does not come amid the packets of the next segment.
            segment_end = begun_ticks + DURATION_MAX_TICKS
            for _ in range(END_PACKETS_COUNT):
                yield begun_ticks, segment_end, False
            begun_ticks = segment_end
        if at_ticks < total_ticks:
            yield begun_ticks, at_ticks, False
    for again in range(END_PACKETS_COUNT):
        yield begun_ticks, total_ticks + round(again * interval_ticks), True


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyPressed:
    """A key went down; said once for each press, however many packets were lost."""

    code: int

    @property
    def key(self) -> str | None:
        """The key, or None for an event that is no key."""
        return key_of(self.code)


@dataclass(frozen=True, slots=True, kw_only=True)
class KeyReleased:
    """A key came up. `certain` is False where the end was not heard but follows from silence or from the next press."""

    code: int
    duration_s: float
    certain: bool = True

    @property
    def key(self) -> str | None:
        """The key, or None for an event that is no key."""
        return key_of(self.code)


KeyEvent = KeyPressed | KeyReleased


@dataclass(frozen=True, slots=True, kw_only=True)
class _Press:
    code: int
    timestamp: int
    duration_ticks: int
    before_ticks: int  # length of the segments before this one
    heard_s: float
    ended: bool


class KeyListener:
    """Makes presses out of the event packets of one source (RFC 4733 §2.5.2), whatever is lost, late or doubled.

    Every packet of a press has the timestamp of its start, so that a press is known by it: the repeated ends are not
    new presses, and one end alone is enough.
    """

    def __init__(self, *, clock_hz: int = 8000, silence_s: float = 0.15) -> None:
        """Listen; `silence_s` after its last packet a key counts as released: three updates of 50 ms by usage."""
        self._clock_hz = clock_hz
        self._silence_s = silence_s
        self._press: _Press | None = None

    def receive(self, packet: RtpPacket, *, now_s: float) -> tuple[KeyEvent, ...]:
        """Take a packet of the agreed payload type; a payload that is no event is a PeerError."""
        event = parse_event(packet.payload)
        press = self._press
        if press is None:
            return self._begin(event, packet.timestamp, now_s)
        ahead_ticks = later_by(packet.timestamp, press.timestamp)
        if ahead_ticks == 0 and event.code == press.code:
            return self._go_on(press, event, now_s)
        if ahead_ticks <= 0:
            return ()  # late, of a press that is over (§2.5.2.3), or two events at one moment, which cannot be
        same = event.code == press.code and not press.ended and not packet.marker
        if same and ahead_ticks % DURATION_MAX_TICKS == 0:
            return self._next_segment(press, event, packet.timestamp, ahead_ticks, now_s)
        told: tuple[KeyEvent, ...] = () if press.ended else (self._released(press, certain=False),)
        return told + self._begin(event, packet.timestamp, now_s)

    def timer_at(self) -> float | None:
        """When silence will end the press that is on; None when no key is down."""
        return None if self._press is None or self._press.ended else self._press.heard_s + self._silence_s

    def handle_timer(self, *, now_s: float) -> tuple[KeyEvent, ...]:
        """Release a key that was not heard of for the silence."""
        press, due_s = self._press, self.timer_at()
        if press is None or due_s is None or now_s < due_s:
            return ()
        self._press = replace(press, ended=True)
        return (self._released(press, certain=False),)

    def _begin(self, event: TelephoneEvent, timestamp: int, now_s: float) -> tuple[KeyEvent, ...]:
        press = _Press(
            code=event.code,
            timestamp=timestamp,
            duration_ticks=event.duration_ticks,
            before_ticks=0,
            heard_s=now_s,
            ended=event.ended,
        )
        self._press = press
        pressed = KeyPressed(code=event.code)
        return (pressed, self._released(press)) if event.ended else (pressed,)

    def _go_on(self, press: _Press, event: TelephoneEvent, now_s: float) -> tuple[KeyEvent, ...]:
        if press.ended:
            return ()  # the second and third end, or an update that was overtaken
        longest_ticks = max(press.duration_ticks, event.duration_ticks)  # updates may overtake each other
        self._press = replace(press, duration_ticks=longest_ticks, heard_s=now_s, ended=event.ended)
        return (self._released(self._press),) if event.ended else ()

    def _next_segment(
        self, press: _Press, event: TelephoneEvent, timestamp: int, ahead_ticks: int, now_s: float
    ) -> tuple[KeyEvent, ...]:
        self._press = replace(
            press,
            timestamp=timestamp,
            duration_ticks=event.duration_ticks,
            before_ticks=press.before_ticks + ahead_ticks,
            heard_s=now_s,
            ended=event.ended,
        )
        return (self._released(self._press),) if event.ended else ()

    def _released(self, press: _Press, *, certain: bool = True) -> KeyReleased:
        duration_s = (press.before_ticks + press.duration_ticks) / self._clock_hz
        return KeyReleased(code=press.code, duration_s=duration_s, certain=certain)


def parse_event_list(text: str) -> frozenset[int]:
    """Return the codes that parameters name, such as "0-15,66" (RFC 4733 §2.4.1); where none are named, the keys."""
    codes: set[int] = set()
    for piece in text.split(",") if text.strip() else ():
        found = re.fullmatch(r"\s*([0-9]{1,3})(?:-([0-9]{1,3}))?\s*", piece, re.ASCII)
        low, high = (int(found[1]), int(found[2] or found[1])) if found else (1, 0)
        if not low <= high < 256:
            raise PeerError("the events are not a list of codes and ranges up to 255", clause="RFC 4733 §2.4.1")
        codes.update(range(low, high + 1))
    return frozenset(codes or range(len(KEYS)))


INFO_RELAY = "application/dtmf-relay"
"""Type of an INFO body that names a key and how long it is pressed. Common practice: no standard describes it, RFC 6086
only allows such legacy use of INFO (its §2)."""
INFO_DIGIT = "application/dtmf"
"""Type of an INFO body that is the key alone. Common practice."""
_RELAY_LINE = re.compile(r"\s*([A-Za-z]+)\s*[=:]\s*(\S+)\s*", re.ASCII)


@dataclass(frozen=True, slots=True, kw_only=True)
class InfoKey:
    """A key told by INFO: which, and for how long, if it was said."""

    key: str
    duration_ms: int | None = None


def print_info(pressed: InfoKey) -> bytes:
    """Return the body of type application/dtmf-relay."""
    key = KEYS[code_of(pressed.key)]
    duration = "" if pressed.duration_ms is None else f"Duration={pressed.duration_ms}\r\n"
    return f"Signal={key}\r\n{duration}".encode()


def parse_info(body: bytes, *, content_type: str) -> InfoKey:
    """Return the key in an INFO body; a type that is neither of the two is answered with 415.

    Names may be of any case, with space around "=", lines may end in LF alone, and the key may be given by the number
    of its event, 10 to 15: all of it is seen in use.
    """
    kind = content_type.partition(";")[0].strip().lower()
    if kind not in {INFO_RELAY, INFO_DIGIT}:
        accepted = (("Accept", f"{INFO_RELAY}, {INFO_DIGIT}"),)
        raise PeerError(f"keys are not told by {kind!r}", code=415, clause="RFC 3261 §21.4.13", headers=accepted)
    text = body.decode("ascii", "replace")
    if kind == INFO_DIGIT:
        return InfoKey(key=_key_read(text.strip()))
    told: dict[str, str] = {}
    for line in text.splitlines():
        found = _RELAY_LINE.fullmatch(line)
        if found:
            told.setdefault(found[1].lower(), found[2])
    duration = told.get("duration", "")
    if duration and not re.fullmatch("[0-9]{1,6}", duration):
        raise PeerError("the duration of a key is not a number of milliseconds", clause="common practice")
    return InfoKey(key=_key_read(told.get("signal", "")), duration_ms=int(duration) if duration else None)


def _key_read(text: str) -> str:
    if len(text) == 1 and text.upper() in KEYS:
        return text.upper()
    if re.fullmatch("1[0-5]", text):
        return KEYS[int(text)]
    raise PeerError("the body names none of the sixteen keys", clause="common practice")
