"""Claim: a SIP message is read as fast as the standard library reads it as a mail, and judged in thrice that time.

Both are pure Python and read the same REGISTER: `parse` splits it as `email.parser.BytesHeaderParser` does, and with
`validate` every header is read that a receiver must look at. Beside it, without a goal: registrations with
digest at the core of the server, two REGISTERs each, in virtual time, without a socket.

``python -m bench.sip_core`` measures it alone.
"""

import random
import time
from collections.abc import Callable, Iterator, Sequence
from email.parser import BytesHeaderParser
from email.policy import compat32
from typing import Final

from bench.claim import Costs, Figure
from doorwright.cli.main import collect_seldom
from doorwright.sip.digest import Account, answer, parse_challenge
from doorwright.sip.guard import Guard
from doorwright.sip.message import Response, parse
from doorwright.sip.nonces import NonceBook
from doorwright.sip.registrar import Registrar
from doorwright.sip.server import Server
from doorwright.sip.validate import validate

NAME: Final = "SIP without sockets"
GOAL_RATIO: Final = 1.0
JUDGED_GOAL_RATIO: Final = 3.0
REALM: Final = "doors.example"
_MESSAGES_COUNT, _REGISTRATIONS_COUNT, _USERS_COUNT, _REGISTRATIONS_PER_S = 10_000, 4_000, 1_000, 1_000
_SOURCE: Final = ("192.0.2.11", 5060)
_SECRET: Final = "invented"  # noqa: S105


def register(user: str, number: int, attempt: int, proof: str = "") -> bytes:
    """Return a REGISTER that no other is equal to; ``proof`` is a header line."""
    lines = (
        f"REGISTER sip:{REALM} SIP/2.0",
        f"Via: SIP/2.0/UDP 192.0.2.11:5060;branch=z9hG4bK-{number}-{attempt};rport",
        "Max-Forwards: 70",
        f"From: <sip:{user}@{REALM}>;tag=t{number}",
        f"To: <sip:{user}@{REALM}>",
        f"Call-ID: {number}@192.0.2.11",
        f"CSeq: {attempt} REGISTER",
        f"Contact: <sip:{user}@192.0.2.11:5060>",
        *((proof,) if proof else ()),
        "Expires: 600",
        "Content-Length: 0",
    )
    return "\r\n".join((*lines, "", "")).encode()


def figures(costs: Costs, sizes: Sequence[int]) -> Iterator[Figure]:  # noqa: ARG001  (measured here: no site in it)
    """Yield the ratio, messages a second, and registrations a second."""
    collect_seldom()
    messages = [register(str(1000 + number % _USERS_COUNT), number, 1) for number in range(_MESSAGES_COUNT)]
    mail = BytesHeaderParser(policy=compat32)
    read_s = _busy_s(parse, messages)
    judged_s = _busy_s(lambda data: validate(parse(data)), messages)
    mail_s = _busy_s(lambda data: mail.parsebytes(data.partition(b"\r\n")[2]), messages)
    yield Figure(NAME, "reading a REGISTER, over reading it as a mail", read_s / mail_s, GOAL_RATIO)
    yield Figure(NAME, "  thousand messages a second, read", _MESSAGES_COUNT / read_s / 1000)
    yield Figure(NAME, "reading and judging it, over reading it as a mail", judged_s / mail_s, JUDGED_GOAL_RATIO)
    yield Figure(NAME, "  thousand messages a second, read and judged", _MESSAGES_COUNT / judged_s / 1000)
    yield Figure(NAME, "  thousand registrations a second, at the core", registrations_per_s() / 1000)


def _busy_s(read: Callable[[bytes], object], messages: list[bytes]) -> float:
    begin_s = time.process_time()
    for data in messages:
        read(data)
    return time.process_time() - begin_s


def registrations_per_s(registrations_count: int = _REGISTRATIONS_COUNT) -> float:
    """Return how many registrations the core of the server does in a second of the processor's time."""
    chance = random.Random(1).randbytes
    users = [str(1000 + number) for number in range(_USERS_COUNT)]
    book = NonceBook(realm=REALM, key=chance(32), algorithms=("MD5",))
    guard = Guard([Account(username=user, password=_SECRET) for user in users], book=book, chance=chance)
    registrar = Registrar(domains=(REALM,), users=users, guard=guard)
    server = Server(registrar, address=("192.0.2.1", 5060), chance=chance)
    busy_s = 0.0

    def answered(data: bytes, now_s: float) -> Response:
        nonlocal busy_s
        begin_s = time.process_time()
        server.receive_datagram(data, source=_SOURCE, now_s=now_s)
        ((told, _),) = server.datagrams_to_send()
        server.handle_timer(now_s)
        while server.next_event() is not None:
            pass
        busy_s += time.process_time() - begin_s
        return _as_response(told)

    for number in range(registrations_count):
        user, now_s = users[number % _USERS_COUNT], number / _REGISTRATIONS_PER_S
        challenge = parse_challenge(answered(register(user, number, 1), now_s).headers.get("WWW-Authenticate") or "")
        if challenge is None:
            raise RuntimeError("the registrar asked for no proof")
        account = Account(username=user, password=_SECRET)
        proof = answer(challenge, account, method="REGISTER", uri=f"sip:{REALM}", cnonce=f"{number:08x}")
        if answered(register(user, number, 2, f"Authorization: {proof}"), now_s).code != 200:
            raise RuntimeError("the registrar did not take the proof")
    return registrations_count / busy_s


def _as_response(data: bytes) -> Response:
    message = parse(data)
    if not isinstance(message, Response):
        raise TypeError("the registrar asked instead of answering")
    return message


if __name__ == "__main__":
    for figure in figures({}, ()):
        word = {None: "", True: "met", False: "not met"}[figure.met]
        print(f"{figure.what}: {figure.measured:.3f} {word}")
