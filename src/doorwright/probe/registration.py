"""What a registrar says of a unit: whether it takes the unit's SIP secret, and where it knows the unit to be.

A REGISTER without Contact changes nothing and is answered with the list of bindings (RFC 3261 §10.2.3, §10.3 step 8).
It carries the proof that the registrar asks for, so one question tells both. The secret itself is never sent: the proof
is a digest of it with the registrar's nonce (RFC 7616 §3.4).
"""

from collections.abc import Awaitable, Callable
from dataclasses import dataclass
from datetime import datetime
from ipaddress import ip_address
from typing import Final
from urllib.parse import quote

from doorwright.kernel.verdict import Subject
from doorwright.line.udp import Address
from doorwright.model.aspect import NONE, Aspect, Standing, bound_text
from doorwright.probe.heard import Reply
from doorwright.probe.question import AGENT, DEFAULT_PORT, UNESCAPED, ask, bracketed, host_port
from doorwright.probe.reach import Outcome
from doorwright.probe.registrant import Registrant
from doorwright.sip.digest import Account
from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import bounded
from doorwright.sip.message import Response
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri

_UNPROVED: Final = 1
"""The CSeq of a question that was answered without proof: with proof it is asked again under the next number."""
_CHALLENGES: Final = (401, 407)
_LONGEST_S: Final = 2**32 - 1  # RFC 3261 §20.19


@dataclass(frozen=True, slots=True, kw_only=True)
class Binding:
    """Where a registrar knows a user to be: the host of the contact, and for how many seconds more, if it says so."""

    host: str
    left_s: int | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Registration:
    """What came of asking about one registration.

    Attributes:
        registrant: whose it is.
        at: when it was heard.
        reply: the registrar's reply; its code where it could be read.
        standing: what became of the secret; None where the reply does not tell.
        bindings: where the user is known to be; None where the registrar did not say.
    """

    registrant: Registrant
    at: datetime
    reply: Reply
    standing: Standing | None = None
    bindings: tuple[Binding, ...] | None = None

    @property
    def subject(self) -> Subject:
        """The unit whose registration it is."""
        return self.registrant.subject

    @property
    def own(self) -> Binding | None:
        """The binding at the unit's planned address."""
        return next((one for one in self.bindings or () if one.host == self.registrant.address), None)

    @property
    def elsewhere(self) -> tuple[str, ...]:
        """The addresses at which the user is known and where by the plan nobody of that user is."""
        return tuple(dict.fromkeys(one.host for one in self.bindings or () if one.host not in self.registrant.mates))

    @property
    def is_registered(self) -> bool | None:
        """Whether the unit is registered, at whatever address; None where it is not known."""
        return None if self.bindings is None else self.own is not None or bool(self.elsewhere)


async def ask_registration(
    registrant: Registrant,
    *,
    patience_s: float,
    now: Callable[[], datetime],
    chance: Callable[[int], bytes],
    turn: Callable[[], Awaitable[None]],
) -> Registration:
    """Ask a registrar about one of its units, with the unit's proof and without a Contact.

    Args:
        registrant: whose registration.
        patience_s: how long to wait for the challenge, and again for the answer to the proof.
        now: this machine's clock.
        chance: gives so many octets which nobody can foresee.
        turn: waits until one more datagram may go.
    """

    def begin(local: Address, now_s: float) -> Endpoint:
        return asking_bindings(registrant, local=local, chance=chance, now_s=now_s)

    heard = await ask(registrant.at, begin, patience_s=patience_s, now=now, turn=turn)
    return read_registration(registrant, heard.outcome, heard.response, at=now())


def asking_bindings(
    registrant: Registrant, *, local: Address, chance: Callable[[int], bytes], now_s: float
) -> Endpoint:
    """Return an endpoint that has asked for the bindings of a unit.

    Args:
        registrant: whose.
        local: our own address and port on that way.
        chance: gives so many octets which nobody can foresee.
        now_s: the time.
    """
    entered, (address, port) = registrant.entered, registrant.at
    uri = SipUri(
        user=quote(entered.user, safe=UNESCAPED), host=bracketed(address), port=None if port == DEFAULT_PORT else port
    )
    endpoint = Endpoint(
        Identity(uri=uri, address=local),
        chance=chance,
        accounts=[Account(username=entered.user, password=entered.secret)],
        most_calls=0,
    )
    endpoint.register(f"sip:{host_port(address, port)}", now_s=now_s, contact="", headers=AGENT)
    return endpoint


def read_registration(
    registrant: Registrant, outcome: Outcome, response: Response | None, *, at: datetime
) -> Registration:
    """Read a registrar's answer."""
    reply = Reply(outcome=outcome, code=response.code if response is not None else None)
    if response is None:
        return Registration(registrant=registrant, at=at, reply=reply)
    bindings: tuple[Binding, ...] | None = None
    standing: Standing | None = None
    if response.is_success:
        proved = response.headers.cseq.number > _UNPROVED
        standing = Standing.ACCEPTED if proved else Standing.NOT_ASKED
        bindings = _bindings(response)
    elif response.code in _CHALLENGES or response.code == 403:
        standing = Standing.REFUSED
    elif response.code == 404:
        standing = Standing.UNKNOWN
    return Registration(registrant=registrant, at=at, reply=reply, standing=standing, bindings=bindings)


def _bindings(response: Response) -> tuple[Binding, ...] | None:
    """Return the bindings that a 2xx lists (§10.3 step 8); None where they cannot be read."""
    try:
        found = [
            Binding(host=plain_host(one.uri.host), left_s=_left_s(one.params.get("expires")))
            for one in response.headers.contacts
            if isinstance(one.uri, SipUri)
        ]
    except PeerError:
        return None
    return tuple(found)


def plain_host(host: str) -> str:
    """Return a host as the plan writes addresses: without brackets, in the usual form; a name in small letters."""
    bare = host.removeprefix("[").removesuffix("]")
    try:
        return str(ip_address(bare))
    except ValueError:
        return bare.lower()


def _left_s(told: str | None) -> int | None:
    if told is None:
        return None
    try:
        return bounded(told, what="expires", high=_LONGEST_S, clause="RFC 3261 §20.19")
    except PeerError:
        return None


def sightings_of(one: Registration) -> tuple[tuple[Aspect, str], ...]:
    """Return what is written down of a unit, by aspect; nothing where its registrar could not be asked."""
    if one.reply.outcome is Outcome.NO_WAY:
        return ()
    found = {Aspect.REGISTRAR_SAYS: one.standing or (one.reply.text if one.reply.code is None else str(one.reply.code))}
    if one.bindings is not None:
        found[Aspect.REGISTERED] = "yes" if one.is_registered else "no"
        known = dict.fromkeys([*([one.registrant.address] if one.own else []), *one.elsewhere])
        found[Aspect.BOUND] = bound_text(known) if known else NONE
        left_s = one.own.left_s if one.own is not None else None
        if left_s is not None:
            found[Aspect.BOUND_FOR] = str(left_s)
    return tuple(found.items())
