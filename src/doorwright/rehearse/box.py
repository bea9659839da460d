"""A box of the rehearsed building: all that is entered in a unit or server, as a value that a fault can alter."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Final

from doorwright.model.calling import DivertCause
from doorwright.paths.week import Spans
from doorwright.rehearse.lock import Lock
from doorwright.rehearse.wire import Jack
from doorwright.sip.formats import Codec

SIP_PORT: Final = 5060
MEDIA_PORT: Final = 40000
"""Where a box listens for speech (our own choice)."""
PICTURE_PORT: Final = 40002
"""Where a box listens for pictures: the next even port, as RTP has it (RFC 3550 §11)."""
PCMU: Final = Codec("PCMU", 8000)


class Role(StrEnum):
    """What a box is."""

    VCU = "VCU"
    URU = "URU"
    SMU = "SMU"
    SERVER = "SIP server"


class KeyForm(StrEnum):
    """How a key pressed in a call is told."""

    EVENT = "an event in the speech (RFC 4733)"
    INFO = "INFO (RFC 6086)"


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """What is entered at a unit for what it registers with."""

    address: str
    port: int
    user: str
    secret: str = field(repr=False)


@dataclass(frozen=True, slots=True, kw_only=True)
class Admitted:
    """What is entered at a registrar for one unit: its user, its secret, and its entrance where it is a call unit.

    ``serial`` is that of the unit, where units are paired by it.
    """

    unit: str
    user: str
    secret: str = field(repr=False)
    entrance: str | None = None
    serial: str | None = None


@dataclass(frozen=True, slots=True)
class Ringing:
    """Ringing at once: these users (the box itself is ""), until ``limit_s`` is over or, with None, they give up."""

    users: tuple[str, ...]
    limit_s: float | None


@dataclass(frozen=True, slots=True)
class Sending:
    """Where calls to a number go instead, from which entrance and inside which timetable; None is every one."""

    cause: DivertCause
    entrance: str | None
    timetable: str | None
    to: str | None


@dataclass(frozen=True, slots=True)
class Freers:
    """Numbers whose holders may free a door, inside a timetable where there is one."""

    numbers: frozenset[str]
    timetable: str | None


@dataclass(frozen=True, slots=True, kw_only=True)
class Release:
    """A door as the call unit knows it: the digit that asks for it, who may, and which unit has the relay.

    ``lock`` is what the relay works, None where the plan knows of none.
    """

    door: str
    digit: str
    freers: tuple[Freers, ...]
    relay: str | None
    lock: Lock | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Box:
    """All that is entered in one unit or server.

    ``user`` is who it is called as and says it is. ``ringing`` says for each number that it routes who rings, stage
    after stage; ``sending`` the diverts of each number, the most particular first. ``call_hours`` are the timetables in
    which calls go through, where there are any; ``desk_hours`` those in which all calls go to a number. ``keys`` and
    ``lines`` (of its directory or of what its keypad reaches) say which number is called. ``digits`` are what a
    receiver presses for the first, second, third door, ``says`` how it tells them, ``hears`` how they are understood.
    It listens for the protocol at ``sip_port``, for speech at ``media_port``.
    ``clock_late_min`` is how far the clock is behind the one on the wall. ``deaf``: speech that comes in is blocked.
    ``serial`` is what stands on the box, ``generation`` the pairing that its firmware speaks, both None where the plan
    does not say. ``audio`` are its codecs for speech, best first, ``video`` those of its camera or screen.
    ``says_address`` is where it tells others to send speech, if that is not its own address; ``insists_on`` a codec
    that it sends whatever was agreed. ``restart_s`` is how long it takes to start.
    """

    id: str
    name: str
    role: Role
    jack: Jack
    user: str
    entrance: str | None = None
    registers: Registration | None = None
    admits: tuple[Admitted, ...] = ()
    room: int | None = None
    ringing: Mapping[str, tuple[Ringing, ...]] = field(default_factory=dict)
    sending: Mapping[str, tuple[Sending, ...]] = field(default_factory=dict)
    hours: Mapping[str, Spans] = field(default_factory=dict)
    call_hours: tuple[str, ...] = ()
    desk_hours: tuple[tuple[str, str], ...] = ()
    keys: Mapping[str, str] = field(default_factory=dict)
    lines: Mapping[str, str] = field(default_factory=dict)
    releases: tuple[Release, ...] = ()
    digits: tuple[str, ...] = ()
    says: KeyForm = KeyForm.EVENT
    hears: frozenset[KeyForm] = frozenset({KeyForm.EVENT})
    clock_late_min: int = 0
    sip_port: int = SIP_PORT
    media_port: int = MEDIA_PORT
    muted: bool = False
    deaf: bool = False
    serial: str | None = None
    generation: int | None = None
    audio: tuple[Codec, ...] = (PCMU,)
    video: tuple[Codec, ...] = ()
    says_address: str | None = None
    insists_on: Codec | None = None
    restart_s: float = 60.0

    @property
    def report_port(self) -> int:
        """Where it listens for reports on its speech: the port beside it (RFC 3550 §11)."""
        return self.media_port + 1

    @property
    def picture_port(self) -> int:
        """Where it listens for pictures."""
        return self.media_port + 2
