"""Where units register in the rehearsed building: who was entered, how many there is room for, what was answered."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from doorwright.rehearse.box import Box, Role
from doorwright.rehearse.pairing import generation_of, is_of
from doorwright.sip.digest import Account
from doorwright.sip.errors import PeerError
from doorwright.sip.guard import Guard
from doorwright.sip.machines import Do
from doorwright.sip.message import Request, Response, parse, response_to
from doorwright.sip.nonces import NonceBook
from doorwright.sip.registrar import Binding, Limits, Registrar
from doorwright.sip.transaction import Transaction, Transactions
from doorwright.sip.uri import SipUri
from doorwright.sip.validate import validate

ASKED_S: Final = 30 * 86_400
"""For how long units register here: longer than any rehearsal (our own choice: renewals are not what is rehearsed)."""
NOT_ENTERED: Final = 404
ANOTHER_UNIT: Final = 403
FULL: Final = 403
SERVER_FULL: Final = 503


@dataclass(frozen=True, slots=True)
class Attempt:
    """A registration that was tried: when, as whom, from which address, and what it was answered.

    ``code`` is None where it was not answered: another pairing is not understood.
    """

    at_s: float
    user: str
    address: str
    code: int | None


class FrontDesk:
    """The registrar of one box, with its transactions."""

    def __init__(self, box: Box, *, chance: Callable[[int], bytes]) -> None:
        """Open with what is entered in the box."""
        self._box = box
        self._chance = chance
        address = box.jack.address
        secrets = {one.user: one.secret for one in box.admits}
        accounts = [Account(username=user, password=secret) for user, secret in secrets.items()]
        guard = Guard(
            accounts, book=NonceBook(realm=address, key=chance(32), algorithms=("SHA-256", "MD5")), chance=chance
        )
        self._users = frozenset(one.user for one in box.admits)
        self._serials: dict[str, list[str]] = {}
        for one in box.admits:
            if one.serial is not None:
                self._serials.setdefault(one.user, []).append(one.serial)
        self._registrar = Registrar(
            domains=[address],
            port=box.sip_port,
            users=self._users,
            guard=guard,
            limits=Limits(longest_s=ASKED_S, default_s=ASKED_S),
        )
        self._registered: set[str] = set()
        self.transactions = Transactions()
        self.attempts: list[Attempt] = []

    def bindings_of(self, user: str, *, now_s: float) -> tuple[Binding, ...]:
        """Return where a user can be reached."""
        return self._registrar.bindings_of(user, now_s=now_s)

    def receive(self, data: bytes, *, source: tuple[str, int], now_s: float) -> None:
        """Take a registration; what cannot be read is dropped."""
        try:
            message = parse(data)
            if not isinstance(message, Request) or validate(message):
                return
            told = self.transactions.receive(message, source=source, now_s=now_s)
        except PeerError:
            return
        for one in told:
            if one.what is Do.TELL_REQUEST and one.transaction is not None:
                self._answer(one.transaction, source[0], now_s)

    def _answer(self, transaction: Transaction, address: str, now_s: float) -> None:
        request = transaction.request
        to = request.headers.to.uri
        user = to.user_text if isinstance(to, SipUri) else ""
        spoken = generation_of(request)
        if spoken is not None and self._box.generation is not None and spoken != self._box.generation:
            self.attempts.append(Attempt(now_s, user, address, None))
            return
        response = self._response(request, user, now_s)
        self.attempts.append(Attempt(now_s, user, address, response.code))
        if response.is_success and "Contact" in request.headers:
            self._registered.add(user)
        self.transactions.respond(transaction, response, now_s=now_s)

    def _response(self, request: Request, user: str, now_s: float) -> Response:
        to_tag = self._chance(8).hex()
        if user not in self._users:
            return response_to(request, NOT_ENTERED, to_tag=to_tag)
        if "Contact" not in request.headers:  # it asks what is bound (RFC 3261 §10.2.3): no unit and no room is meant
            return self._registrar.answer(request, now_s=now_s, to_tag=to_tag)
        serials = self._serials.get(user)
        if serials is not None and not any(is_of(request, serial) for serial in serials):
            return response_to(request, ANOTHER_UNIT, to_tag=to_tag)
        full = self._box.room is not None and len(self._registered) >= self._box.room
        if full and user not in self._registered:
            return response_to(request, SERVER_FULL if self._box.role is Role.SERVER else FULL, to_tag=to_tag)
        return self._registrar.answer(request, now_s=now_s, to_tag=to_tag)
