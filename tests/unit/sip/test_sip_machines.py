"""The four machines of RFC 3261 §17: every cell is reached through the real transactions, and every gap stays one.

EDGES is read off figures 5 to 8 of RFC 3261 with the Accepted states of RFC 6026 §7 (from memory), so that the tables
themselves are held by something outside them.
"""

from collections import deque
from typing import NamedTuple

import pytest

from doorwright.sip.errors import LocalError
from doorwright.sip.headers import Headers
from doorwright.sip.machines import (
    CLIENT,
    INVITE_CLIENT,
    INVITE_SERVER,
    MACHINES,
    SERVER,
    Again,
    Cell,
    Do,
    Event,
    Input,
    Machine,
    Start,
    State,
    Stop,
)
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.return_path import Address
from doorwright.sip.timers import Timer
from doorwright.sip.transaction import Told, Transaction, Transactions
from tests.unit.sip.wire import brief

HERE: Address = ("192.0.2.1", 5060)
THERE: Address = ("192.0.2.2", 5060)
TELLING = {Do.TELL_REQUEST, Do.TELL_RESPONSE, Do.TELL_ACK, Do.TELL_TIMEOUT, Do.TELL_ERROR}

EDGES = {
    INVITE_CLIENT.name: """
        Calling     A                 INVITE         -         Calling
        Calling     B                 -              timeout   Terminated
        Calling     transport error   -              error     Terminated
        Calling     1xx               -              response  Proceeding
        Calling     2xx               -              response  Accepted
        Calling     300-699           ACK            response  Completed
        Proceeding  1xx               -              response  Proceeding
        Proceeding  2xx               -              response  Accepted
        Proceeding  300-699           ACK            response  Completed
        Accepted    2xx               -              response  Accepted
        Accepted    M                 -              -         Terminated
        Completed   300-699           ACK            -         Completed
        Completed   transport error   -              error     Terminated
        Completed   D                 -              -         Terminated
    """,
    CLIENT.name: """
        Trying      E                 OPTIONS        -         Trying
        Trying      F                 -              timeout   Terminated
        Trying      transport error   -              error     Terminated
        Trying      1xx               -              response  Proceeding
        Trying      2xx               -              response  Completed
        Trying      300-699           -              response  Completed
        Proceeding  E                 OPTIONS        -         Proceeding
        Proceeding  F                 -              timeout   Terminated
        Proceeding  transport error   -              error     Terminated
        Proceeding  1xx               -              response  Proceeding
        Proceeding  2xx               -              response  Completed
        Proceeding  300-699           -              response  Completed
        Completed   K                 -              -         Terminated
    """,
    INVITE_SERVER.name: """
        Proceeding  the request again 180            -         Proceeding
        Proceeding  Trying            100            -         Proceeding
        Proceeding  1xx from user     180            -         Proceeding
        Proceeding  2xx from user     200            -         Accepted
        Proceeding  300-699 from user 486            -         Completed
        Proceeding  transport error   -              error     Proceeding
        Accepted    2xx from user     200            -         Accepted
        Accepted    ACK               -              ACK       Accepted
        Accepted    transport error   -              error     Accepted
        Accepted    L                 -              -         Terminated
        Completed   the request again 486            -         Completed
        Completed   G                 486            -         Completed
        Completed   ACK               -              -         Confirmed
        Completed   H                 -              timeout   Terminated
        Completed   transport error   -              error     Completed
        Confirmed   I                 -              -         Terminated
    """,
    SERVER.name: """
        Trying      1xx from user     180            -         Proceeding
        Trying      2xx from user     200            -         Completed
        Trying      300-699 from user 486            -         Completed
        Proceeding  the request again 180            -         Proceeding
        Proceeding  1xx from user     180            -         Proceeding
        Proceeding  2xx from user     200            -         Completed
        Proceeding  300-699 from user 486            -         Completed
        Proceeding  transport error   -              error     Terminated
        Completed   the request again 200            -         Completed
        Completed   transport error   -              error     Terminated
        Completed   J                 -              -         Terminated
    """,
}
CODES = {
    Input.RECEIVE_1XX: 180,
    Input.RECEIVE_2XX: 200,
    Input.RECEIVE_REFUSAL: 486,
    Input.SEND_1XX: 180,
    Input.SEND_2XX: 200,
    Input.SEND_REFUSAL: 486,
}


class Edge(NamedTuple):
    """One line of EDGES; "-" is nothing sent or told."""

    state: State
    event: Event
    sent: str
    told: str
    after: State


def edges(machine: Machine) -> list[Edge]:
    found = []
    for line in EDGES[machine.name].strip().splitlines():
        text = line.strip()
        event = text[12:30].strip()
        sent, told, state = text[30:].split()
        name: Event = Timer(event) if event in set(Timer) else Input(event)
        found.append(Edge(State(text[:12].strip()), name, sent, told, State(state)))
    return found


CELLS = [
    pytest.param(machine, edge, id=f"{machine.name}: {edge.state}, {edge.event}")
    for machine in MACHINES
    for edge in edges(machine)
]
GAPS = [
    pytest.param(machine, state, event, id=f"{machine.name}: {state}, {event}")
    for machine in MACHINES
    for state in machine.states
    if state is not State.TERMINATED
    for event in Input
    if event is not Input.START and (state, event) not in machine.cells and event is not Input.ACK
]


def request(method: str, *, branch: str = "z9hG4bKone", host: Address = HERE, to_tag: str = "") -> Request:
    return Request(
        method,
        "sip:205@192.0.2.2",
        Headers(
            [
                ("Via", f"SIP/2.0/UDP {host[0]}:{host[1]};branch={branch}"),
                ("Max-Forwards", "70"),
                ("From", "<sip:100@192.0.2.1>;tag=a"),
                ("To", f"<sip:205@192.0.2.2>{to_tag}"),
                ("Call-ID", "call"),
                ("CSeq", f"1 {method}"),
            ]
        ),
    )


class Bench:
    """One transaction of a machine, moved by its events through the public calls."""

    def __init__(self, machine: Machine) -> None:
        self.machine = machine
        self.now_s = 0.0
        self.transactions = Transactions()
        self.request = request("INVITE" if machine in (INVITE_CLIENT, INVITE_SERVER) else "OPTIONS")
        if machine in (INVITE_CLIENT, CLIENT):
            self.one: Transaction = self.transactions.request(self.request, peer=THERE, now_s=0.0)
        else:
            (told,) = self.transactions.receive(self.request, source=HERE, now_s=0.0)
            assert told.what is Do.TELL_REQUEST
            assert told.transaction is not None
            self.one = told.transaction
        self.sent()

    def sent(self) -> list[str]:
        return [brief(data).split()[0] for data, _ in self.transactions.datagrams_to_send()]

    def happen(self, event: Event) -> tuple[Told, ...]:
        if isinstance(event, Timer):
            return self._fire(event)
        if event in {Input.RECEIVE_1XX, Input.RECEIVE_2XX, Input.RECEIVE_REFUSAL}:
            response = response_to(self.request, CODES[event], to_tag="b")
            return self.transactions.receive(response, source=THERE, now_s=self.now_s)
        if event in {Input.SEND_1XX, Input.SEND_2XX, Input.SEND_REFUSAL}:
            response = response_to(self.one.request, CODES[event], to_tag="b")
            known = (self.one.state, event) in self.machine.cells
            assert self.transactions.respond(self.one, response, now_s=self.now_s) == known
            return ()
        if event is Input.ACK:
            return self.transactions.receive(request("ACK", to_tag=";tag=b"), source=HERE, now_s=self.now_s)
        if event is Input.REQUEST:
            return self.transactions.receive(self.request, source=HERE, now_s=self.now_s)
        return self.transactions.transport_failed(self.one.peer, now_s=self.now_s)

    def _fire(self, timer: Timer) -> tuple[Told, ...]:
        """Let time pass until the timer fires; others that are due before may send, but tell nothing."""
        assert timer in self.one.waits, f"{timer} is not running in {self.one.state}"
        due_s = self.one.waits[timer][0]
        while self.now_s < due_s:
            told: tuple[Told, ...] = ()
            at_s = self.transactions.timer_at()
            assert at_s is not None
            self.now_s = at_s
            self.sent()
            told = self.transactions.handle_timer(self.now_s)
        return told

    def reach(self, state: State) -> None:
        for event in _way(self.machine, state):
            self.happen(event)
        assert self.one.state is state
        self.sent()


def _way(machine: Machine, wanted: State) -> tuple[Event, ...]:
    """The shortest way to a state by its table, without timers and errors."""
    waiting: deque[tuple[State, tuple[Event, ...]]] = deque([(machine.begin.state, ())])
    while True:
        state, way = waiting.popleft()
        if state is wanted:
            return way
        for (begin, event), cell in machine.cells.items():
            if begin is state and isinstance(event, Input) and len(way) < 4:
                waiting.append((cell.state, (*way, event)))


@pytest.mark.parametrize(("machine", "edge"), CELLS)
def test_every_cell_does_what_the_figure_says(machine: Machine, edge: Edge) -> None:
    bench = Bench(machine)
    bench.reach(edge.state)
    if edge.state is State.PROCEEDING and edge.event is Input.REQUEST and bench.one.response is None:
        bench.happen(Input.SEND_1XX)  # the figure sends the last provisional response again; here is one
        bench.sent()
    told = [one.what.removesuffix(" to user") for one in bench.happen(edge.event)]
    assert told == ([] if edge.told == "-" else [edge.told])
    assert bench.sent() == ([] if edge.sent == "-" else [edge.sent])
    assert bench.one.state is edge.after
    assert (len(bench.transactions) == 0) == (edge.after is State.TERMINATED)
    if edge.after is State.TERMINATED:
        assert bench.transactions.timer_at() is None


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)
def test_the_figures_are_the_whole_table(machine: Machine) -> None:
    assert {(edge.state, edge.event) for edge in edges(machine)} == set(machine.cells)
    assert {cell.state for cell in machine.cells.values()} | {machine.begin.state} == set(machine.states)


@pytest.mark.parametrize(("machine", "state", "event"), GAPS)
def test_what_is_in_no_cell_changes_nothing(machine: Machine, state: State, event: Input) -> None:
    is_client = machine in (INVITE_CLIENT, CLIENT)
    foreign = event.name.startswith(("SEND", "REQUEST")) if is_client else event.name.startswith("RECEIVE")
    bench = Bench(machine)
    bench.reach(state)
    waits = dict(bench.one.waits)
    if foreign and event.name.startswith("SEND"):
        with pytest.raises(LocalError, match="we sent this request"):
            bench.transactions.respond(bench.one, response_to(bench.one.request, CODES[event]), now_s=0.0)
    elif not foreign:
        assert bench.happen(event) == ()
    assert bench.sent() == []
    assert bench.one.state is state
    assert bench.one.waits == waits


def test_an_ack_in_no_cell_is_absorbed() -> None:
    # Proceeding: an ACK that comes before any final response; Confirmed: a copy of the ACK
    for state in (State.PROCEEDING, State.CONFIRMED):
        bench = Bench(INVITE_SERVER)
        bench.reach(state)
        assert bench.happen(Input.ACK) == ()
        assert (bench.one.state, bench.sent()) == (state, [])


@pytest.mark.parametrize("machine", MACHINES, ids=lambda machine: machine.name)
def test_no_timer_is_left_running_nor_awaited_in_vain(machine: Machine) -> None:
    """In each state, the timers of its row run (all of them, over UDP), and no others."""
    for state in machine.states:
        if state is State.TERMINATED:
            continue
        bench = Bench(machine)
        bench.reach(state)
        awaited = {event for begin, event in machine.cells if begin is state and isinstance(event, Timer)}
        optional = {Timer.TRYING}  # stopped by our own provisional response
        assert awaited - optional <= set(bench.one.waits) <= awaited


def test_every_action_is_used() -> None:
    cells: list[Cell] = [cell for machine in MACHINES for cell in (machine.begin, *machine.cells.values())]
    actions = [action for cell in cells for action in cell.actions]
    assert {action for action in actions if isinstance(action, Do)} == set(Do)
    started = {action.timer for action in actions if isinstance(action, Start)}
    assert started == set(Timer)
    assert {action.timer for action in actions if isinstance(action, Again)} == {Timer.A, Timer.E, Timer.G}
    assert {action.timer for action in actions if isinstance(action, Stop)} <= started


def test_a_refusal_is_acknowledged_on_the_same_hop() -> None:
    # §17.1.1.3: the Via, Request-URI, From, Call-ID and CSeq number of the INVITE, the To of the response
    transactions = Transactions()
    invite = request("INVITE").with_headers(request("INVITE").headers.adding("Route", "<sip:192.0.2.9;lr>"))
    transactions.request(invite, peer=THERE, now_s=0.0)
    transactions.datagrams_to_send()
    transactions.receive(response_to(invite, 486, to_tag="b"), source=THERE, now_s=0.0)
    ((data, peer),) = transactions.datagrams_to_send()
    assert peer == THERE
    assert data == (
        b"ACK sip:205@192.0.2.2 SIP/2.0\r\n"
        b"Via: SIP/2.0/UDP 192.0.2.1:5060;branch=z9hG4bKone\r\n"
        b"Max-Forwards: 70\r\n"
        b"Route: <sip:192.0.2.9;lr>\r\n"
        b"From: <sip:100@192.0.2.1>;tag=a\r\n"
        b"To: <sip:205@192.0.2.2>;tag=b\r\n"
        b"Call-ID: call\r\n"
        b"CSeq: 1 ACK\r\n"
        b"Content-Length: 0\r\n\r\n"
    )


def test_responses_find_their_request_by_branch_and_method() -> None:
    # §17.1.3
    transactions = Transactions()
    transactions.request(request("INVITE"), peer=THERE, now_s=0.0)
    cancel = transactions.request(request("CANCEL"), peer=THERE, now_s=0.0)
    (told,) = transactions.receive(Response(200, "OK", request("CANCEL").headers), source=THERE, now_s=0.0)
    assert told.transaction is cancel
    other = Response(200, "OK", request("INVITE", branch="z9hG4bKtwo").headers)
    (stray,) = transactions.receive(other, source=THERE, now_s=0.0)
    assert stray.transaction is None
    with pytest.raises(LocalError, match="branch is in use"):
        transactions.request(request("INVITE"), peer=THERE, now_s=0.0)
    with pytest.raises(LocalError, match="no transaction"):
        transactions.request(request("ACK"), peer=THERE, now_s=0.0)


def test_requests_find_their_transaction_by_branch_sender_and_method() -> None:
    # §17.2.3
    transactions = Transactions()
    (first,) = transactions.receive(request("INVITE"), source=HERE, now_s=0.0)
    (other,) = transactions.receive(request("INVITE", host=("192.0.2.3", 5060)), source=HERE, now_s=0.0)
    (cancel,) = transactions.receive(request("CANCEL"), source=HERE, now_s=0.0)
    assert len({id(one.transaction) for one in (first, other, cancel)}) == 3
    assert transactions.invite_of(request("CANCEL")) is first.transaction
    assert transactions.invite_of(request("CANCEL", branch="z9hG4bKtwo")) is None
    (ack,) = transactions.receive(request("ACK", branch="z9hG4bKnew"), source=HERE, now_s=0.0)
    assert (ack.what, ack.transaction) == (Do.TELL_ACK, None)


def test_an_old_request_is_matched_without_its_branch() -> None:
    # §17.2.3: Request-URI, From tag, Call-ID, CSeq and top Via
    transactions = Transactions()
    (first,) = transactions.receive(request("INVITE", branch="1"), source=HERE, now_s=0.0)
    assert transactions.receive(request("INVITE", branch="1"), source=HERE, now_s=0.1) == ()
    assert first.transaction is not None
    transactions.respond(first.transaction, response_to(first.transaction.request, 486, to_tag="b"), now_s=0.2)
    assert transactions.receive(request("ACK", branch="1", to_tag=";tag=b"), source=HERE, now_s=0.3) == ()
    assert first.transaction.state is State.CONFIRMED
    (second,) = transactions.receive(request("INVITE", branch="2"), source=HERE, now_s=0.4)
    assert second.transaction is not first.transaction


def test_a_request_that_came_by_another_way_is_merged_while_the_first_is_known() -> None:
    # §8.2.2.2
    transactions = Transactions()
    (first,) = transactions.receive(request("OPTIONS"), source=HERE, now_s=0.0)
    (second,) = transactions.receive(request("OPTIONS", branch="z9hG4bKtwo"), source=HERE, now_s=0.0)
    assert first.transaction is not None
    assert second.transaction is not None
    assert not transactions.is_merged(first.transaction)
    assert transactions.is_merged(second.transaction)
    for one in (first.transaction, second.transaction):
        transactions.respond(one, response_to(one.request, 200, to_tag="b"), now_s=0.0)
    transactions.handle_timer(40.0)
    assert len(transactions) == 0
    (third,) = transactions.receive(request("OPTIONS", branch="z9hG4bKthree"), source=HERE, now_s=50.0)
    assert third.transaction is not None
    assert not transactions.is_merged(third.transaction)
