"""A played call as a ladder: who takes part, and step by step who sends what to whom and what happens where."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from enum import StrEnum
from typing import Final, TypeAlias

from doorwright.model.door import Door
from doorwright.model.walk import Walk
from doorwright.rehearse.box import Box
from doorwright.rehearse.journal import Deed, Entry
from doorwright.rehearse.trace import event_of, is_media, is_report, told_report
from doorwright.rehearse.wire import Carried, Jack
from doorwright.sip.dtmf import key_of, parse_info
from doorwright.sip.errors import PeerError
from doorwright.sip.message import Message, Request, parse
from doorwright.sip.uri import SipUri

Happened: TypeAlias = Carried | Entry
"""A packet that was sent, or an entry of the journal; a call is a sequence of these, in the order of their coming."""

SPEECH_GAP_S: Final = 3.0
"""Speech or pictures of one direction after a longer silence are a step of their own (the rehearsal sends one packet
a second)."""

_NOT_OF_A_CALL: Final = frozenset({Deed.REGISTERED, Deed.NOT_REGISTERED})


class Sort(StrEnum):
    """What goes from one participant to another."""

    REQUEST = "request"
    RESPONSE = "response"
    SPEECH = "speech"
    PICTURE = "picture"
    KEY = "key pressed"
    REPORT = "report"
    OTHER = "something that cannot be read"


@dataclass(frozen=True, slots=True)
class Participant:
    """Somebody with a line of their own: the part, its name and its address.

    The part is "" for what the plan has not: an address at which nobody is, or a router that others share, which has
    both its addresses.
    """

    part: str
    name: str
    address: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Sent:
    """One step: packets from one participant to another, by their places in the ladder's order.

    A request or response is one packet. Speech is all of one direction that comes without a long silence, and so are
    pictures; a key is all packets that tell one press. ``packets`` are their places among what happened; ``lost_count``
    of them did not arrive. ``again``: the same message was sent before. ``until_s`` is when the last was sent.
    """

    at_s: float
    until_s: float
    sender: int
    taker: int
    sort: Sort
    words: str
    packets: tuple[int, ...]
    lost_count: int = 0
    again: bool = False

    @property
    def lost(self) -> bool:
        """Whether nothing of it arrived."""
        return self.lost_count == len(self.packets)


@dataclass(frozen=True, slots=True)
class Noted:
    """One step: something that happened at a participant."""

    at_s: float
    at: int
    words: str


Step: TypeAlias = Sent | Noted


@dataclass(frozen=True, slots=True)
class Ladder:
    """A call: its participants in the order in which they came into it, and its steps in order of time.

    Seconds count from the first step.
    """

    participants: tuple[Participant, ...]
    steps: tuple[Step, ...]


def ladder_of(walk: Walk, boxes: Mapping[str, Box], happened: Sequence[Happened]) -> Ladder:
    """Return the ladder of a call.

    Registrations that fall into it are left out: they belong to no call.

    Args:
        walk: the site, for the names of doors.
        boxes: as they are in the building, with their faults, by the identifiers of their parts.
        happened: what was sent and what was written down while the call lasted, in that order.
    """
    return _Telling(walk, boxes).told(happened)


def is_of_a_call(one: Happened) -> bool:
    """Say whether something belongs to a call, and not to a registration."""
    if isinstance(one, Entry):
        return one.deed not in _NOT_OF_A_CALL
    message = None if is_media(one) else _message(one)
    return message is None or _method(message) != "REGISTER"


class _Telling:
    """Makes one ladder."""

    def __init__(self, walk: Walk, boxes: Mapping[str, Box]) -> None:
        self._walk = walk
        self._boxes = boxes
        self._at_jack = {box.jack: box for box in boxes.values()}
        self._routers: dict[str, str] = {}
        self._places: dict[Participant, int] = {}
        self._steps: list[Step] = []
        self._sent_before: set[tuple[int, int, bytes]] = set()
        self._open: dict[tuple[int, int, str], int] = {}  # speech and keys that more packets may belong to
        self._begun_s: float | None = None

    def told(self, happened: Sequence[Happened]) -> Ladder:
        """Tell everything."""
        self._find_routers(happened)
        for place, one in enumerate(happened):
            if not is_of_a_call(one):
                continue
            self._begun_s = one.at_s if self._begun_s is None else self._begun_s
            if isinstance(one, Entry):
                self._note(one)
            elif is_report(one):
                self._step(place, one, *self._ends(one), sort=Sort.REPORT, words=told_report(one))
            elif is_media(one):
                self._speech(place, one)
            else:
                self._message(place, one)
        return Ladder(tuple(self._places), tuple(self._steps))

    # who

    def _find_routers(self, happened: Sequence[Happened]) -> None:
        """Note both addresses of each router that others share: it is no part of the plan, and one participant."""
        faces: dict[str, dict[str, None]] = {}
        for one in happened:
            for jack in (one.jack, one.taker) if isinstance(one, Carried) else ():
                if jack is not None and jack not in self._at_jack:
                    faces.setdefault(jack.mac, {})[jack.address] = None
        self._routers = {mac: " and ".join(addresses) for mac, addresses in faces.items()}

    def _place(self, participant: Participant) -> int:
        return self._places.setdefault(participant, len(self._places))

    def _at(self, jack: Jack | None, address: str) -> int:
        if jack is None:
            return self._place(Participant("", "nobody there", address))
        box = self._at_jack.get(jack)
        if box is None:
            return self._place(Participant("", jack.mac.removeprefix("of "), self._routers[jack.mac]))
        return self._place(Participant(box.id, box.name, box.jack.address))

    def _ends(self, one: Carried) -> tuple[int, int]:
        return self._at(one.jack, one.jack.address), self._at(one.taker, one.to[0])

    def _since(self, at_s: float) -> float:
        return at_s - (self._begun_s or 0.0)

    # what

    def _note(self, entry: Entry) -> None:
        box = self._boxes[entry.part]
        at = self._place(Participant(box.id, box.name, box.jack.address))
        self._steps.append(Noted(self._since(entry.at_s), at, _told_entry(self._walk, entry)))

    def _message(self, place: int, one: Carried) -> None:
        sender, taker = self._ends(one)
        message = _message(one)
        sort = Sort.OTHER if message is None else Sort.REQUEST if isinstance(message, Request) else Sort.RESPONSE
        words = "cannot be read" if message is None else _told_message(message)
        again = (sender, taker, one.data) in self._sent_before
        self._sent_before.add((sender, taker, one.data))
        self._step(place, one, sender, taker, sort=sort, words=words, again=again)

    def _speech(self, place: int, one: Carried) -> None:
        sender, taker = self._ends(one)
        box = self._at_jack.get(one.jack)
        is_picture = box is not None and one.source_port == box.picture_port
        event = None if is_picture else event_of(one)
        if event is None:
            sort = Sort.PICTURE if is_picture else Sort.SPEECH
            words, key = sort.value, (sender, taker, sort.value)
            before = self._open.get(key)
            goes_on = before is not None and self._since(one.at_s) - self._until_s(before) <= SPEECH_GAP_S
        else:
            # all packets of one press carry the timestamp of its start (RFC 4733 §2.5.1.2)
            key = (sender, taker, one.data[4:8].hex())
            before = self._open.get(key)
            goes_on = before is not None
            words, sort = f"key {key_of(event.code)}", Sort.KEY
        if before is not None and goes_on:
            self._add(before, place, one)
        else:
            self._open[key] = len(self._steps)
            self._step(place, one, sender, taker, sort=sort, words=words)

    def _step(
        self, place: int, one: Carried, sender: int, taker: int, *, sort: Sort, words: str, again: bool = False
    ) -> None:
        at_s = self._since(one.at_s)
        self._steps.append(
            Sent(
                at_s=at_s, until_s=at_s, sender=sender, taker=taker, sort=sort, words=words, packets=(place,),
                lost_count=int(not one.arrived), again=again,
            )
        )  # fmt: skip

    def _until_s(self, number: int) -> float:
        step = self._steps[number]
        return step.until_s if isinstance(step, Sent) else step.at_s

    def _add(self, number: int, place: int, one: Carried) -> None:
        step = self._steps[number]
        assert isinstance(step, Sent)  # noqa: S101  (only these are kept open)
        self._steps[number] = replace(
            step,
            until_s=self._since(one.at_s),
            packets=(*step.packets, place),
            lost_count=step.lost_count + (not one.arrived),
        )


# in words


def _message(one: Carried) -> Message | None:
    try:
        return parse(one.data)
    except PeerError:
        return None


def _method(message: Message) -> str:
    if isinstance(message, Request):
        return message.method
    try:
        return message.headers.cseq.method
    except PeerError:
        return ""


def _told_message(message: Message) -> str:
    method = _method(message)
    if not isinstance(message, Request):
        return f"{message.code} {message.reason} ({method})"
    called = message.uri.user_text if isinstance(message.uri, SipUri) else ""
    key = _key(message) if method == "INFO" else ""
    return " ".join(part for part in (method, called, key) if part)


def _key(request: Request) -> str:
    try:
        return f"key {parse_info(request.body, content_type=request.headers.get('Content-Type') or '').key}"
    except PeerError:
        return ""


def _told_entry(walk: Walk, entry: Entry) -> str:
    match entry.deed:
        case Deed.CALLED:
            return f"visitor calls {entry.about}"
        case Deed.FREED:
            digit, _, ident = entry.about.partition(" ")
            door = walk.find(Door, ident)
            return f"digit {digit} freed {door.name if door is not None else ident}"
        case Deed.REFUSED:
            return f"call refused ({entry.about})"
        case deed:
            return deed.value
