"""An endpoint: one end of calls, registrations and questions, without input or output (RFC 3261 §8, §10.2, §11 to §15).

Five calls make it run: `receive_datagram`, `datagrams_to_send`, `timer_at`, `handle_timer`, `next_event`. After every
call and every action, send what is to be sent and take the events. Session descriptions are bytes to it.
"""

from collections.abc import Callable, Iterable

from doorwright.sip import callee, caller
from doorwright.sip.digest import Account
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Asked, Faulty, Happening, Informed, Replied, Why
from doorwright.sip.machines import Do
from doorwright.sip.message import Message, Request, Response, parse
from doorwright.sip.return_path import Address
from doorwright.sip.station import MOST_TRIES, Call, Errand, Identity, Phase, Series, Station
from doorwright.sip.timers import Times
from doorwright.sip.transaction import Told, Transaction
from doorwright.sip.validate import Abilities, faults_for_client, faults_for_server, validate

SESSION = "application/sdp"
DIGITS = "application/dtmf-relay"
ABILITIES = Abilities(methods=("INVITE", "ACK", "BYE", "CANCEL", "OPTIONS", "INFO"))
"""What an endpoint serves: all but REGISTER, which is a registrar's."""
RETRY_AFTER_S = 30  # our own: when somebody may call again where all our calls were in use


class Endpoint:
    """One end. Every method takes the time in seconds, on any clock that never goes back."""

    def __init__(
        self,
        identity: Identity,
        *,
        chance: Callable[[int], bytes],
        accounts: Iterable[Account] = (),
        abilities: Abilities = ABILITIES,
        times: Times | None = None,
        most_calls: int | None = None,
    ) -> None:
        """Set up an endpoint.

        Args:
            identity: who it is, and where.
            chance: gives so many random octets, for tags, branches and identifiers.
            accounts: what it answers challenges with.
            abilities: what it serves.
            times: the base figures of all timers.
            most_calls: with so many calls, another one is answered 503; None for no bound.
        """
        self._station = Station(identity, chance=chance, accounts=accounts, abilities=abilities, times=times or Times())
        self._most_calls = most_calls
        self._registrations: dict[str, Series] = {}

    # The five calls

    def receive_datagram(self, data: bytes, *, source: Address, now_s: float) -> None:
        """Take what came in one datagram; any bytes at all."""
        try:
            message = parse(data)
        except PeerError as fault:
            self._station.events.append(Faulty(source=source, fault=fault))
            return
        self.receive_message(message, source=source, now_s=now_s)

    def receive_message(self, message: Message, *, source: Address, now_s: float) -> None:
        """Take one message, such as a `StreamReader` has cut from a stream."""
        faults = validate(message)
        if not faults and isinstance(message, Response):
            faults = faults_for_client(message)
        if faults and isinstance(message, Request):
            self._station.refuse_stateless(message, faults[0], source=source)
        elif faults:
            self._station.events.append(Faulty(source=source, fault=faults[0]))
        else:
            self._hear(self._station.transactions.receive(message, source=source, now_s=now_s), now_s)

    def datagrams_to_send(self) -> list[tuple[bytes, Address]]:
        """What is to be sent, in order, and where; each is returned once."""
        return self._station.transactions.datagrams_to_send()

    def timer_at(self) -> float | None:
        """When `handle_timer` is to be called next; None while nothing waits."""
        return self._station.timer_at()

    def handle_timer(self, now_s: float) -> None:
        """Do what is due by now; called too early it does nothing."""
        self._station.act_on_wakes(now_s)
        self._hear(self._station.transactions.handle_timer(now_s), now_s)

    def next_event(self) -> Happening | None:
        """What happened next; None when all has been told."""
        return self._station.events.popleft() if self._station.events else None

    def transport_failed(self, peer: Address, *, now_s: float) -> None:
        """What was sent to this address did not go out (§8.1.3.1: as if 503 had come)."""
        self._hear(self._station.transactions.transport_failed(peer, now_s=now_s), now_s)

    # Calls

    def invite(
        self,
        target: str,
        *,
        now_s: float,
        body: bytes = b"",
        content_type: str = SESSION,
        through: Address | None = None,
        headers: Iterable[tuple[str, str]] = (),
    ) -> int:
        """Call somebody and return the number of the call.

        Args:
            target: their address.
            now_s: the time.
            body: our offer; none asks for theirs, which `acknowledge` answers.
            content_type: what the body is.
            through: where to send; the host of the address itself if it is an IP address and nothing is said.
            headers: others to add, such as ("Subject", "front door").

        Raises:
            LocalError: the address cannot be read, or is a name and nothing is said.
        """
        peer = self._station.peer_of(target, through)
        call = caller.invite(
            self._station, target, peer=peer, body=body, content_type=content_type, headers=headers, now_s=now_s
        )
        return call.id

    def reinvite(self, call: int, *, now_s: float, body: bytes = b"", content_type: str = SESSION) -> None:
        """Ask to change a connected call; LocalError while another INVITE is open in it.

        Refused with 491, ask again after a time by chance: 2.1 to 4 s for who called, up to 2 s for the other (§14.1).
        """
        caller.reinvite(self._station, self._call(call), body=body, content_type=content_type, now_s=now_s)

    def acknowledge(self, call: int, *, body: bytes, content_type: str = SESSION) -> None:
        """Answer the offer that came with their 2xx; LocalError if there is none."""
        caller.acknowledge(self._station, self._call(call), body=body, content_type=content_type)

    def cancel(self, call: int, *, now_s: float) -> None:
        """Take an INVITE of ours back; it ends in `Refused` with 487, or as `Ended` where the 2xx was on its way."""
        caller.cancel(self._station, self._call(call), now_s=now_s)

    def ring(self, call: int, *, now_s: float, code: int = 180, body: bytes = b"", content_type: str = SESSION) -> None:
        """Tell who called that it rings (or another of 101 to 199)."""
        callee.ring(self._station, self._call(call), code=code, body=body, content_type=content_type, now_s=now_s)

    def answer(self, call: int, *, now_s: float, body: bytes = b"", content_type: str = SESSION) -> None:
        """Accept their INVITE or re-INVITE."""
        callee.answer(self._station, self._call(call), body=body, content_type=content_type, now_s=now_s)

    def refuse(
        self,
        call: int,
        *,
        now_s: float,
        code: int = 486,
        reason: str = "",
        headers: Iterable[tuple[str, str]] = (),
    ) -> None:
        """Refuse their INVITE or re-INVITE; a 3xx with the header Contact sends who called elsewhere."""
        callee.refuse(self._station, self._call(call), code=code, reason=reason, headers=tuple(headers), now_s=now_s)

    def bye(self, call: int, *, now_s: float) -> None:
        """Hang up a connected call. Where our answer is not acknowledged yet, the BYE waits for that (§15)."""
        found = self._call(call)
        if found.phase is not Phase.LIVE or found.dialog is None:
            raise LocalError("only a connected call can be hung up: cancel or refuse it")
        if found.offered is not None:
            caller.acknowledge(self._station, found, body=b"", content_type="")
        found.phase = Phase.LEAVING
        if found.got is not None:
            self._station.respond(found.got, 487, tag=found.tag, now_s=now_s)
            found.got = None
        if not found.repeats:
            self._station.bye(found.dialog, found, now_s=now_s)

    def info(self, call: int, *, body: bytes, now_s: float, content_type: str = DIGITS) -> int:
        """Send something within a call, such as a digit, and return the number of the errand."""
        found = self._call(call)
        if found.phase is not Phase.LIVE or found.dialog is None:
            raise LocalError("only a connected call carries INFO")
        if found.repeats:
            raise LocalError("our answer is not acknowledged yet: who called may not know of the call")
        errand = Errand(id=self._station.next_id(), method="INFO", call=found, dialog=found.dialog)
        request = self._station.within(found.dialog, "INFO", headers=[("Content-Type", content_type)], body=body)
        self._station.errand(errand, request, peer=found.dialog.next_hop, now_s=now_s)
        return errand.id

    # Errands

    def register(
        self,
        registrar: str,
        *,
        now_s: float,
        expires_s: int = 3600,
        through: Address | None = None,
        contact: str | None = None,
        headers: Iterable[tuple[str, str]] = (),
    ) -> int:
        """Register where we are (§10.2) and return the number of the errand; 0 seconds unregister.

        Args:
            registrar: its address without a user, such as sip:192.0.2.10.
            now_s: the time.
            expires_s: how long it shall hold; how long it does is in the response.
            through: as in `invite`.
            contact: another than our own, or "*" with 0 seconds for all; "" asks what is registered.
            headers: others to add.
        """
        station = self._station
        peer = station.peer_of(registrar, through)
        series = self._registrations.setdefault(registrar, Series(station.new_call_id(), station.new_tag()))
        told = station.identity.contact if contact is None else contact
        pairs = [("Contact", told), ("Expires", str(expires_s)), *headers] if told else [*headers]
        return self._ask(
            "REGISTER", registrar, to=str(station.identity.uri), series=series, headers=pairs, peer=peer, now_s=now_s
        )

    def options(
        self, target: str, *, now_s: float, through: Address | None = None, headers: Iterable[tuple[str, str]] = ()
    ) -> int:
        """Ask somebody what they can do (§11.1) and return the number of the errand; `headers` are others to add."""
        station = self._station
        peer = station.peer_of(target, through)
        series = Series(station.new_call_id(), station.new_tag())
        accepted = ", ".join(station.abilities.content_types)
        pairs = [("Contact", station.identity.contact), ("Accept", accepted), *headers]
        return self._ask("OPTIONS", target, to=target, series=series, headers=pairs, peer=peer, now_s=now_s)

    def _ask(
        self,
        method: str,
        target: str,
        *,
        to: str,
        series: Series,
        headers: list[tuple[str, str]],
        peer: Address,
        now_s: float,
    ) -> int:
        errand = Errand(id=self._station.next_id(), method=method, series=series)
        request = self._station.outside(method, target, to=f"<{to}>", series=series, headers=headers)
        self._station.errand(errand, request, peer=peer, now_s=now_s)
        return errand.id

    # What the transactions tell

    def _call(self, number: int) -> Call:
        found = self._station.calls.get(number)
        if found is None:
            raise LocalError(f"there is no call {number}, or it is over")
        return found

    def _hear(self, told: tuple[Told, ...], now_s: float) -> None:
        for one in told:
            self._hear_one(one, now_s)

    def _hear_one(self, told: Told, now_s: float) -> None:
        transaction, message = told.transaction, told.message
        match told.what:
            case Do.TELL_REQUEST if transaction is not None:
                self._asked(transaction, told.source, now_s)
            case Do.TELL_ACK if isinstance(message, Request):
                call = self._station.dialogs.get(_dialog_id(message))
                if call is not None:
                    callee.acknowledged(self._station, call, message, now_s=now_s)
            case Do.TELL_RESPONSE if transaction is not None and isinstance(message, Response):
                self._replied(transaction, message, now_s)
            case Do.TELL_TIMEOUT if transaction is not None:
                self._failed(transaction, 408, now_s)
            case Do.TELL_ERROR if transaction is not None:
                self._failed(transaction, 503, now_s)

    def _asked(self, transaction: Transaction, source: Address, now_s: float) -> None:
        """§8.2: what we cannot do is refused first, then the request goes where it belongs."""
        station, request = self._station, transaction.request
        faults = faults_for_server(request, station.abilities)
        if faults:
            station.refuse(transaction, faults[0], now_s=now_s)
        elif request.method == "CANCEL":
            callee.cancelled(station, transaction, now_s=now_s)
        elif request.headers.to.tag:
            self._asked_within(transaction, now_s)
        elif station.transactions.is_merged(transaction):
            fault = PeerError("the same request by another way", code=482, clause="RFC 3261 §8.2.2.2")
            station.refuse(transaction, fault, now_s=now_s)
        elif request.method == "INVITE" and self._most_calls is not None and len(station.calls) >= self._most_calls:
            station.respond(transaction, 503, headers=[("Retry-After", str(RETRY_AFTER_S))], now_s=now_s)
        elif request.method == "INVITE":
            callee.invited(station, transaction, now_s=now_s)
        elif request.method == "OPTIONS":
            self._answer_options(transaction, source, now_s)
        else:
            fault = PeerError("a request for a call that is none", code=481, clause="RFC 3261 §12.2.2, §15.1.2")
            station.refuse(transaction, fault, now_s=now_s)

    def _asked_within(self, transaction: Transaction, now_s: float) -> None:
        """§12.2.2: a request in a dialog."""
        station, request = self._station, transaction.request
        identity = _dialog_id(request)
        call = station.dialogs.get(identity)
        dialog = None
        if call is not None:
            dialogs = [one for one in (call.dialog, *call.early.values()) if one is not None]
            dialog = next((one for one in dialogs if one.id == identity), None)
        if call is None or dialog is None:
            unknown = PeerError("a call that we do not know", code=481, clause="RFC 3261 §12.2.2")
            station.refuse(transaction, unknown, now_s=now_s)
            return
        try:
            dialog.take(request)
        except PeerError as fault:
            station.refuse(transaction, fault, now_s=now_s)
            return
        match request.method:
            case "INVITE":
                callee.reinvited(station, call, dialog, transaction, now_s=now_s)
            case "BYE" if dialog is call.dialog:
                callee.hung_up(station, call, transaction, now_s=now_s)
            case "OPTIONS":
                self._answer_options(transaction, transaction.peer, now_s)
            case "INFO":
                station.respond(transaction, 200, now_s=now_s)
                station.events.append(Informed(call=call.id, request=request))
            case _:  # BYE in an early dialog of our call: only who called may send it (§15)
                early = PeerError("a BYE that only the other end may send", code=403, clause="RFC 3261 §15")
                station.refuse(transaction, early, now_s=now_s)

    def _answer_options(self, transaction: Transaction, source: Address, now_s: float) -> None:
        """§11.2: what an INVITE would be told."""
        told = [("Contact", self._station.identity.contact), *self._station.abilities_told()]
        full = self._most_calls is not None and len(self._station.calls) >= self._most_calls
        code = 486 if full and not transaction.request.headers.to.tag else 200
        self._station.respond(transaction, code, headers=told, now_s=now_s)
        self._station.events.append(Asked(request=transaction.request, source=source))

    def _replied(self, transaction: Transaction, response: Response, now_s: float) -> None:
        match transaction.user:
            case Call() as call:
                caller.responded(self._station, call, transaction, response, now_s=now_s)
            case Errand() as errand if response.is_final:
                self._errand_replied(errand, transaction, response, now_s)

    def _errand_replied(self, errand: Errand, transaction: Transaction, response: Response, now_s: float) -> None:
        source = errand.dialog or errand.series
        if source is not None and errand.tries < MOST_TRIES:
            proved = self._station.proved(transaction.request, response, number=source.next_number)
            if proved is not None:
                errand.tries += 1
                self._station.errand(errand, proved, peer=transaction.peer, now_s=now_s)
                return
        self._errand_over(errand, response.code, response.reason, response, now_s)

    def _failed(self, transaction: Transaction, code: int, now_s: float) -> None:
        if not transaction.is_client:
            return  # a refusal that nobody acknowledged changes nothing for us (§17.2.1)
        reason = "Request Timeout" if code == 408 else "Service Unavailable"
        match transaction.user:
            case Call() as call:
                caller.failed(self._station, call, code, reason, response=None, now_s=now_s)
            case Errand() as errand:
                self._errand_over(errand, code, reason, None, now_s)

    def _errand_over(self, errand: Errand, code: int, reason: str, response: Response | None, now_s: float) -> None:
        call = errand.call
        match errand.method:
            case "CANCEL":
                return  # the INVITE itself says what became of it
            case "BYE":  # §15.1.1: whatever is answered, and if nothing is: the call is over
                if call is not None and errand.dialog is call.dialog:
                    self._station.end(call, Why.WE_HUNG_UP)
                return
        self._station.events.append(
            Replied(errand=errand.id, method=errand.method, code=code, reason=reason, response=response)
        )
        if code in {408, 481} and call is not None and call.dialog is not None and call.phase is Phase.LIVE:
            self._station.bye(call.dialog, call, now_s=now_s)  # §12.2.1.2
            self._station.end(call, Why.NO_LONGER_KNOWN)


def _dialog_id(request: Request) -> tuple[str, str, str]:
    headers = request.headers
    return (headers.call_id, headers.to.tag or "", headers.from_.tag or "")
