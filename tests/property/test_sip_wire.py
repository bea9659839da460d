"""Two endpoints over a wire that loses, doubles and reorders datagrams end in agreement, whatever their users do."""

from contextlib import suppress
from dataclasses import dataclass, field

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.sip.errors import LocalError
from doorwright.sip.events import Answered, Connected, Ended, Invited, Refused, Reinvited, Replied
from doorwright.sip.stack import Endpoint
from tests.unit.sip.wire import DOOR, FLAT, FLAT_URI, OFFER, Wire, endpoint, events_of

MOST_LOST = 3  # in a row; each message is said at least seven times, so that it arrives at last
DELAYS_S = st.floats(0.0, 0.8, allow_nan=False)
COPIES = st.lists(DELAYS_S, max_size=2).map(tuple)  # none: lost; two: doubled; unequal delays: reordered


@dataclass
class Seen:
    """What one user was told, and did by itself: it answers what it is asked.

    Attributes:
        live: calls that are connected as this end sees it.
        over: how each call ended, in order; no call may end twice.
    """

    end: Endpoint
    eager: bool
    calls: list[int] = field(default_factory=list)
    live: set[int] = field(default_factory=set)
    over: list[int] = field(default_factory=list)
    replies: int = 0
    changes: int = 0

    def take(self, now_s: float) -> None:
        for event in events_of(self.end):
            match event:
                case Invited(call=call):
                    self.calls.append(call)
                    with suppress(LocalError):  # it may be over by the time that its user hears of it
                        self.end.ring(call, now_s=now_s)
                        if self.eager:
                            self.end.answer(call, body=OFFER, now_s=now_s)
                case Reinvited(call=call):
                    with suppress(LocalError):
                        self.end.answer(call, body=OFFER, now_s=now_s)
                case Answered(call=call, again=again):
                    self.live.add(call)
                    self.changes += again
                case Connected(call=call):
                    self.live.add(call)
                case Refused(call=call, over=over):
                    self.changes += not over
                    if over:
                        self.over.append(call)
                case Ended(call=call):
                    self.live.discard(call)
                    self.over.append(call)
                case Replied():
                    self.replies += 1
                case _:
                    pass


ACTIONS = st.sampled_from(
    ["answer", "refuse", "cancel", "door bye", "flat bye", "reinvite", "flat reinvite", "info", "nothing"]
)
STEPS = st.lists(st.tuples(st.floats(0.0, 3.0), ACTIONS), max_size=6)


def act(action: str, door: Seen, flat: Seen, now_s: float) -> bool:
    """Let a user do something; False where the state does not allow it, which changes nothing."""
    who = flat if action in {"answer", "refuse", "flat bye", "flat reinvite"} else door
    if not who.calls:
        return False
    call = who.calls[0]
    try:
        match action:
            case "answer":
                who.end.answer(call, body=OFFER, now_s=now_s)
            case "refuse":
                who.end.refuse(call, now_s=now_s)
            case "cancel":
                who.end.cancel(call, now_s=now_s)
            case "door bye" | "flat bye":
                who.end.bye(call, now_s=now_s)
            case "reinvite" | "flat reinvite":
                who.end.reinvite(call, body=OFFER, now_s=now_s)
            case "info":
                who.end.info(call, body=b"Signal=1\r\n", now_s=now_s)
            case _:
                return False
    except LocalError:
        return False
    return True


@settings(max_examples=150, deadline=None)
@given(
    st.lists(COPIES, max_size=60),
    st.booleans(),
    STEPS,
)
def test_two_ends_agree_at_last(copies: list[tuple[float, ...]], eager: bool, steps: list[tuple[float, str]]) -> None:
    lost_in_a_row = 0

    def delays(number: int) -> tuple[float, ...]:
        nonlocal lost_in_a_row
        drawn = copies[number] if number < len(copies) else (0.0,)
        lost_in_a_row = 0 if drawn else lost_in_a_row + 1
        if lost_in_a_row > MOST_LOST:
            lost_in_a_row = 0
            return (0.0,)
        return drawn

    door, flat = Seen(endpoint(DOOR, "100"), eager=True), Seen(endpoint(FLAT, "205"), eager=eager)
    wire = Wire({DOOR: door.end, FLAT: flat.end}, delays=delays)
    door.calls.append(door.end.invite(FLAT_URI, body=OFFER, now_s=0.0))
    infos = changes = 0

    def run(for_s: float) -> None:
        end_s = wire.now_s + for_s
        while wire.now_s < end_s:  # users are slow: a tenth of a second
            wire.run(min(end_s, wire.now_s + 0.1))
            door.take(wire.now_s)
            flat.take(wire.now_s)

    for wait_s, action in steps:
        run(wait_s)
        done = act(action, door, flat, wire.now_s)
        infos += done and action == "info"
        changes += done and action.endswith("reinvite")
    run(40.0)
    # whatever still rings is taken back, by both: who called may have given up without the other hearing of it
    act("cancel", door, flat, wire.now_s)
    run(80.0)
    act("refuse", door, flat, wire.now_s)
    run(80.0)
    assert len(flat.calls) == 1, "copies of an INVITE are one call"
    assert (len(door.live), len(flat.live)) in {(0, 0), (1, 1)}
    for seen in (door, flat):
        assert len(seen.over) == len(set(seen.over)) <= 1
    assert len(door.live) + len(door.over) == 1
    assert door.replies == infos
    # each is answered, but for what was open when the call ended
    assert door.changes + flat.changes <= changes
    assert not door.live or door.changes + flat.changes == changes
    if door.live:
        act("door bye", door, flat, wire.now_s)
        run(80.0)
        assert len(door.over) == len(flat.over) == 1
    run(40.0)
    assert door.end.timer_at() is flat.end.timer_at() is None, "nothing is left running"


@settings(max_examples=200, deadline=None)
@given(st.lists(st.tuples(st.binary(max_size=40), st.integers(0, 400), st.integers(0, 400)), max_size=8))
def test_any_bytes_are_survived_in_the_midst_of_a_call(cuts: list[tuple[bytes, int, int]]) -> None:
    """Real messages of the call with a piece replaced, thrown at both ends in every state that they pass."""
    door, flat = Seen(endpoint(DOOR, "100"), eager=True), Seen(endpoint(FLAT, "205"), eager=True)
    call = door.end.invite(FLAT_URI, body=OFFER, now_s=0.0)
    now_s = 0.0
    for number, (noise, begin, length) in enumerate(cuts):
        now_s += 0.1
        for source, end, other in ((DOOR, door.end, flat.end), (FLAT, flat.end, door.end)):
            for data, _ in end.datagrams_to_send():
                spoilt = data[:begin] + noise + data[begin + length :]
                other.receive_datagram(spoilt, source=source, now_s=now_s)
                other.receive_datagram(data, source=source, now_s=now_s)
        for seen in (door, flat):
            seen.take(now_s)
            seen.end.handle_timer(now_s)
        if number == 4:
            act("info", door, flat, now_s)
    assert call >= 1
    for seen in (door, flat):
        while (at_s := seen.end.timer_at()) is not None and at_s < 1000.0:
            seen.end.handle_timer(at_s)
            seen.end.datagrams_to_send()
