"""The four machines of RFC 3261 §17 as tables, corrected by RFC 6026: state and event to actions and next state.

A pair that is in no table changes nothing: such a message is absorbed, such a response from our user is discarded, such
a timer is not running. `transaction.py` runs the tables, the reference page draws them.
"""

from dataclasses import dataclass
from enum import StrEnum

from doorwright.sip.timers import Timer


class State(StrEnum):
    """Where a transaction is."""

    CALLING = "Calling"
    TRYING = "Trying"
    PROCEEDING = "Proceeding"
    ACCEPTED = "Accepted"
    COMPLETED = "Completed"
    CONFIRMED = "Confirmed"
    TERMINATED = "Terminated"


class Input(StrEnum):
    """What can happen to a transaction. The timers stand beside it: their firing is an event too."""

    START = "start"
    REQUEST = "the request again"
    ACK = "ACK"
    RECEIVE_1XX = "1xx"
    RECEIVE_2XX = "2xx"
    RECEIVE_REFUSAL = "300-699"
    SEND_1XX = "1xx from user"
    SEND_2XX = "2xx from user"
    SEND_REFUSAL = "300-699 from user"
    TRANSPORT_ERROR = "transport error"


Event = Input | Timer


class Do(StrEnum):
    """What a transaction does, in the order of the table."""

    SEND_REQUEST = "send the request"
    SEND_ACK = "send ACK"
    SEND_RESPONSE = "send the response"
    SEND_TRYING = "send 100"
    REPEAT_RESPONSE = "send the last response again"
    TELL_REQUEST = "request to user"
    TELL_RESPONSE = "response to user"
    TELL_ACK = "ACK to user"
    TELL_TIMEOUT = "timeout to user"
    TELL_ERROR = "error to user"


@dataclass(frozen=True, slots=True)
class Start:
    """Start a timer, or start it again."""

    timer: Timer


@dataclass(frozen=True, slots=True)
class Stop:
    """Stop a timer."""

    timer: Timer


@dataclass(frozen=True, slots=True)
class Again:
    """Start a timer of repeats with its next wait: twice the last one, no more than T2 where Table 4 says so.

    Attributes:
        longest: wait T2 whatever the last wait was (Timer E in Proceeding, §17.1.2.2).
    """

    timer: Timer
    longest: bool = False


Action = Do | Start | Stop | Again


@dataclass(frozen=True, slots=True)
class Cell:
    """What one event does in one state."""

    actions: tuple[Action, ...]
    state: State


@dataclass(frozen=True, eq=False, slots=True, kw_only=True)
class Machine:
    """One machine; there are four, each equal to itself alone.

    Attributes:
        name: what it is called in the RFC.
        clause: where it stands.
        begin: what is done at once, and the first state.
        cells: by state and event.
    """

    name: str
    clause: str
    begin: Cell
    cells: dict[tuple[State, Event], Cell]

    @property
    def states(self) -> tuple[State, ...]:
        """Its states in the order of their enumeration, the last one being Terminated."""
        met = {self.begin.state, *(cell.state for cell in self.cells.values())}
        return tuple(state for state in State if state in met)

    @property
    def events(self) -> tuple[Event, ...]:
        """The events that mean something to it."""
        met = {event for _, event in self.cells}
        return tuple(event for event in (*Input, *Timer) if event in met)


_TERMINATED = State.TERMINATED

INVITE_CLIENT = Machine(
    name="INVITE client transaction",
    clause="RFC 3261 §17.1.1 figure 5, RFC 6026 §7.2",
    begin=Cell((Do.SEND_REQUEST, Start(Timer.A), Start(Timer.B)), State.CALLING),
    cells={
        (State.CALLING, Timer.A): Cell((Do.SEND_REQUEST, Again(Timer.A)), State.CALLING),
        (State.CALLING, Timer.B): Cell((Do.TELL_TIMEOUT,), _TERMINATED),
        (State.CALLING, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.CALLING, Input.RECEIVE_1XX): Cell(
            (Stop(Timer.A), Stop(Timer.B), Do.TELL_RESPONSE),
            State.PROCEEDING,
        ),
        (State.CALLING, Input.RECEIVE_2XX): Cell(
            (Stop(Timer.A), Stop(Timer.B), Do.TELL_RESPONSE, Start(Timer.M)),
            State.ACCEPTED,
        ),
        (State.CALLING, Input.RECEIVE_REFUSAL): Cell(
            (Stop(Timer.A), Stop(Timer.B), Do.SEND_ACK, Do.TELL_RESPONSE, Start(Timer.D)),
            State.COMPLETED,
        ),
        (State.PROCEEDING, Input.RECEIVE_1XX): Cell((Do.TELL_RESPONSE,), State.PROCEEDING),
        (State.PROCEEDING, Input.RECEIVE_2XX): Cell((Do.TELL_RESPONSE, Start(Timer.M)), State.ACCEPTED),
        (State.PROCEEDING, Input.RECEIVE_REFUSAL): Cell(
            (Do.SEND_ACK, Do.TELL_RESPONSE, Start(Timer.D)),
            State.COMPLETED,
        ),
        # RFC 6026 §7.2: copies and answers of other branches of a fork all go to the user, who acknowledges each.
        (State.ACCEPTED, Input.RECEIVE_2XX): Cell((Do.TELL_RESPONSE,), State.ACCEPTED),
        (State.ACCEPTED, Timer.M): Cell((), _TERMINATED),
        (State.COMPLETED, Input.RECEIVE_REFUSAL): Cell((Do.SEND_ACK,), State.COMPLETED),
        (State.COMPLETED, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.COMPLETED, Timer.D): Cell((), _TERMINATED),
    },
)

_FINAL_TO_CLIENT = Cell(
    (Stop(Timer.E), Stop(Timer.F), Do.TELL_RESPONSE, Start(Timer.K)),
    State.COMPLETED,
)

CLIENT = Machine(
    name="non-INVITE client transaction",
    clause="RFC 3261 §17.1.2 figure 6",
    begin=Cell((Do.SEND_REQUEST, Start(Timer.E), Start(Timer.F)), State.TRYING),
    cells={
        (State.TRYING, Timer.E): Cell((Do.SEND_REQUEST, Again(Timer.E)), State.TRYING),
        (State.TRYING, Timer.F): Cell((Do.TELL_TIMEOUT,), _TERMINATED),
        (State.TRYING, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.TRYING, Input.RECEIVE_1XX): Cell((Do.TELL_RESPONSE,), State.PROCEEDING),
        (State.TRYING, Input.RECEIVE_2XX): _FINAL_TO_CLIENT,
        (State.TRYING, Input.RECEIVE_REFUSAL): _FINAL_TO_CLIENT,
        (State.PROCEEDING, Timer.E): Cell((Do.SEND_REQUEST, Again(Timer.E, longest=True)), State.PROCEEDING),
        (State.PROCEEDING, Timer.F): Cell((Do.TELL_TIMEOUT,), _TERMINATED),
        (State.PROCEEDING, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.PROCEEDING, Input.RECEIVE_1XX): Cell((Do.TELL_RESPONSE,), State.PROCEEDING),
        (State.PROCEEDING, Input.RECEIVE_2XX): _FINAL_TO_CLIENT,
        (State.PROCEEDING, Input.RECEIVE_REFUSAL): _FINAL_TO_CLIENT,
        (State.COMPLETED, Timer.K): Cell((), _TERMINATED),
    },
)

INVITE_SERVER = Machine(
    name="INVITE server transaction",
    clause="RFC 3261 §17.2.1 figure 7, RFC 6026 §7.1",
    begin=Cell((Do.TELL_REQUEST, Start(Timer.TRYING)), State.PROCEEDING),
    cells={
        (State.PROCEEDING, Input.REQUEST): Cell((Do.REPEAT_RESPONSE,), State.PROCEEDING),
        (State.PROCEEDING, Timer.TRYING): Cell((Do.SEND_TRYING,), State.PROCEEDING),
        (State.PROCEEDING, Input.SEND_1XX): Cell((Stop(Timer.TRYING), Do.SEND_RESPONSE), State.PROCEEDING),
        (State.PROCEEDING, Input.SEND_2XX): Cell(
            (Stop(Timer.TRYING), Do.SEND_RESPONSE, Start(Timer.L)),
            State.ACCEPTED,
        ),
        (State.PROCEEDING, Input.SEND_REFUSAL): Cell(
            (Stop(Timer.TRYING), Do.SEND_RESPONSE, Start(Timer.G), Start(Timer.H)),
            State.COMPLETED,
        ),
        # RFC 6026 §7.1: an error in sending does not end a server transaction of an INVITE; its timers will.
        (State.PROCEEDING, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), State.PROCEEDING),
        (State.ACCEPTED, Input.SEND_2XX): Cell((Do.SEND_RESPONSE,), State.ACCEPTED),
        (State.ACCEPTED, Input.ACK): Cell((Do.TELL_ACK,), State.ACCEPTED),
        (State.ACCEPTED, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), State.ACCEPTED),
        (State.ACCEPTED, Timer.L): Cell((), _TERMINATED),
        (State.COMPLETED, Input.REQUEST): Cell((Do.REPEAT_RESPONSE,), State.COMPLETED),
        (State.COMPLETED, Timer.G): Cell((Do.REPEAT_RESPONSE, Again(Timer.G)), State.COMPLETED),
        (State.COMPLETED, Input.ACK): Cell((Stop(Timer.G), Stop(Timer.H), Start(Timer.I)), State.CONFIRMED),
        (State.COMPLETED, Timer.H): Cell((Do.TELL_TIMEOUT,), _TERMINATED),
        (State.COMPLETED, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), State.COMPLETED),
        (State.CONFIRMED, Timer.I): Cell((), _TERMINATED),
    },
)

_FINAL_FROM_SERVER = Cell((Do.SEND_RESPONSE, Start(Timer.J)), State.COMPLETED)

SERVER = Machine(
    name="non-INVITE server transaction",
    clause="RFC 3261 §17.2.2 figure 8",
    begin=Cell((Do.TELL_REQUEST,), State.TRYING),
    cells={
        (State.TRYING, Input.SEND_1XX): Cell((Do.SEND_RESPONSE,), State.PROCEEDING),
        (State.TRYING, Input.SEND_2XX): _FINAL_FROM_SERVER,
        (State.TRYING, Input.SEND_REFUSAL): _FINAL_FROM_SERVER,
        (State.PROCEEDING, Input.REQUEST): Cell((Do.REPEAT_RESPONSE,), State.PROCEEDING),
        (State.PROCEEDING, Input.SEND_1XX): Cell((Do.SEND_RESPONSE,), State.PROCEEDING),
        (State.PROCEEDING, Input.SEND_2XX): _FINAL_FROM_SERVER,
        (State.PROCEEDING, Input.SEND_REFUSAL): _FINAL_FROM_SERVER,
        (State.PROCEEDING, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.COMPLETED, Input.REQUEST): Cell((Do.REPEAT_RESPONSE,), State.COMPLETED),
        (State.COMPLETED, Input.TRANSPORT_ERROR): Cell((Do.TELL_ERROR,), _TERMINATED),
        (State.COMPLETED, Timer.J): Cell((), _TERMINATED),
    },
)

MACHINES = (INVITE_CLIENT, CLIENT, INVITE_SERVER, SERVER)
