"""What a unit or server says to OPTIONS over UDP."""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime

from doorwright.line.udp import Address
from doorwright.probe.clock import ahead_s
from doorwright.probe.question import AGENT, ask, bracketed, host_port
from doorwright.probe.reach import Outcome
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri


@dataclass(frozen=True, slots=True, kw_only=True)
class Sip:
    """What came of OPTIONS: the code of the final response, None where there was none that could be read."""

    outcome: Outcome
    code: int | None = None
    ahead_s: int | None = None


async def ask_options(
    address: str,
    port: int,
    *,
    patience_s: float,
    now: Callable[[], datetime],
    chance: Callable[[int], bytes],
    turn: Callable[[], Awaitable[None]],
) -> Sip:
    """Ask what it can do. OPTIONS neither rings nor changes anything (RFC 3261 §11).

    Args:
        address: an IP address.
        port: its UDP port for SIP.
        patience_s: how long to wait in all; the request is repeated meanwhile.
        now: this machine's clock.
        chance: gives so many octets which nobody can foresee.
        turn: waits until one more datagram may go.
    """

    def begin(local: Address, now_s: float) -> Endpoint:
        return asking_options((address, port), local=local, chance=chance, now_s=now_s)

    heard = await ask((address, port), begin, patience_s=patience_s, now=now, turn=turn)
    if heard.response is None:
        return Sip(outcome=heard.outcome)
    date = heard.response.headers.get("Date")
    ahead = None
    if date is not None and heard.asked_at is not None and heard.heard_at is not None:
        ahead = ahead_s(date, asked_at=heard.asked_at, heard_at=heard.heard_at)
    return Sip(outcome=heard.outcome, code=heard.response.code, ahead_s=ahead)


def asking_options(peer: Address, *, local: Address, chance: Callable[[int], bytes], now_s: float) -> Endpoint:
    """Return an endpoint that has asked this peer for its options.

    Args:
        peer: who is asked.
        local: our own address and port on that way.
        chance: gives so many octets which nobody can foresee.
        now_s: the time.
    """
    uri = SipUri(user="doorwright", host=bracketed(local[0]), port=local[1])
    endpoint = Endpoint(Identity(uri=uri, address=local), chance=chance, most_calls=0)
    endpoint.options(f"sip:{host_port(*peer)}", now_s=now_s, headers=AGENT)
    return endpoint
