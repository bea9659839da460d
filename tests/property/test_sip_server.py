"""A server under hostile input: any datagrams in any order and at any time end as answers or events; no trace stays."""

from dataclasses import dataclass

from hypothesis import given, settings
from hypothesis import strategies as st

from doorwright.sip.errors import PeerError
from doorwright.sip.message import Request, parse, response_to
from doorwright.sip.proxy import Manner
from doorwright.sip.registrar import Limits, Registrar
from doorwright.sip.server import Server
from tests.unit.sip.stations import SERVER, Network, Station, chance
from tests.unit.sip.torture_messages import MESSAGES

CALLER = ("192.0.2.10", 5060)
_network = Network(Server(Registrar(domains=[], users=[]), address=SERVER, chance=chance(0)))  # to write messages with
_station = Station(_network, 10)
_HOME = "sip:tower.example"
_CONTACTS = (
    "<sip:unit@192.0.2.11>",
    "<sip:unit@192.0.2.12>;q=0.5, <sip:1203@192.0.2.1>",  # the server itself: a loop
    "<sip:unit@192.0.2.13>;expires=0, <sip:unit@192.0.2.14;transport=tcp>, <mailto:unit@tower.example>",
)
_ROUTED = {"Route": "<sip:192.0.2.1;lr>, <sip:192.0.2.20;lr>"}
SEEDS = (
    *(
        _station.request("REGISTER", _HOME, seq=at, To="<sip:1203@tower.example>", Contact=contact).to_bytes()
        for at, contact in enumerate(_CONTACTS, 1)
    ),
    *(
        _station.request(method, f"sip:1203@{host}", seq=7, **more).to_bytes()
        for method in ("INVITE", "ACK", "CANCEL", "BYE", "OPTIONS", "INFO")
        for host, more in (("tower.example", {}), ("192.0.2.11", _ROUTED))
    ),
    *MESSAGES.values(),
)


@dataclass(frozen=True)
class Step:
    """A datagram, or an answer to the request that the server sent last but so many; and the seconds before it."""

    data: bytes
    answer: int | None
    back: int
    wait_s: float


def _edited(data: bytes, edits: list[tuple[int, int, bytes]]) -> bytes:
    for at, length, put in edits:
        place = at % (len(data) + 1)
        data = data[:place] + put + data[place + length :]
    return data


edits = st.lists(st.tuples(st.integers(0, 4000), st.integers(0, 12), st.binary(max_size=6)), max_size=2)
steps = st.builds(
    Step,
    data=st.builds(_edited, st.sampled_from(SEEDS), edits),
    answer=st.none() | st.sampled_from([100, 180, 200, 202, 302, 401, 408, 486, 487, 503, 603]),
    back=st.integers(0, 5),
    wait_s=st.sampled_from([0.0, 0.01, 0.3, 5.0, 33.0, 200.0]),
)


@settings(max_examples=60)
@given(st.lists(steps, max_size=25), st.booleans(), st.booleans())
def test_whatever_comes_is_survived_and_forgotten(todo: list[Step], in_turn: bool, record: bool) -> None:
    registrar = Registrar(domains=["tower.example", SERVER[0]], users=["1203"], limits=Limits(bindings=4))
    server = Server(registrar, address=SERVER, chance=chance(1), manner=Manner(in_turn=in_turn, record_route=record))
    asked: list[Request] = []
    now_s = 0.0
    sent = 0

    def flush() -> None:
        nonlocal sent
        rounds = 0
        while out := server.datagrams_to_send():
            rounds += 1
            assert rounds < 100, "the server talks to itself without end"
            for data, address in out:
                sent += 1
                try:
                    message = parse(data)
                except PeerError:
                    raise AssertionError("what the server sends is no message") from None
                if isinstance(message, Request):
                    asked.append(message)
                if address == SERVER:
                    server.receive_datagram(data, source=SERVER, now_s=now_s)

    for step in todo:
        now_s += step.wait_s
        server.handle_timer(now_s)
        data = step.data
        if step.answer is not None and asked:
            came = asked[-1 - step.back % len(asked)]
            data = response_to(came, step.answer, to_tag="t").to_bytes()
        server.receive_datagram(data, source=CALLER, now_s=now_s)
        flush()
    for _ in range(5000):
        due_s = server.timer_at()
        if due_s is None:
            break
        assert due_s >= now_s - 250.0
        now_s = max(now_s, due_s)
        server.handle_timer(now_s)
        flush()
    assert server.timer_at() is None
    assert len(server._transactions) == 0
    assert len(server._proxy) == 0
    assert not server._proxy._branches
    assert registrar.bindings_of("1203", now_s=now_s) == ()
    assert sent < 200 * (len(todo) + 1)
    while server.next_event() is not None:
        pass
