"""The telephone in a box: an endpoint of the protocol, its events told as calls of a listener."""

from collections.abc import Callable
from contextlib import suppress
from typing import Protocol
from urllib.parse import quote

from doorwright.rehearse.box import SIP_PORT, Box, Registration
from doorwright.rehearse.pairing import told
from doorwright.sip.digest import Account
from doorwright.sip.dtmf import InfoKey, parse_info, print_info
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Answered, Ended, Happening, Informed, Invited, Progress, Refused, Replied
from doorwright.sip.headers import lenient_seconds
from doorwright.sip.message import Request, Response
from doorwright.sip.stack import Endpoint
from doorwright.sip.station import Identity
from doorwright.sip.uri import SipUri


class Listener(Protocol):
    """Whoever has the telephone."""

    def on_invited(self, call: int, *, called: str, caller: str, offer: bytes) -> None:
        """Somebody calls."""

    def on_ringing(self, call: int) -> None:
        """It rings at the other end."""

    def on_answered(self, call: int, answer: bytes) -> None:
        """Our call was taken."""

    def on_refused(self, call: int, code: int) -> None:
        """Our call came to nothing."""

    def on_informed(self, call: int, key: str) -> None:
        """A key was told within a call."""

    def on_ended(self, call: int) -> None:
        """A call is over."""

    def on_registered(self, code: int, holds_s: int | None) -> None:
        """The registrar answered, and says for how long that holds."""


class Phone:
    """One endpoint at port 5060 of its box."""

    def __init__(self, box: Box, *, listener: Listener, chance: Callable[[int], bytes]) -> None:
        """Set up with what is entered in the box."""
        registers = box.registers
        host = registers.address if registers is not None else box.jack.address
        user = registers.user if registers is not None else box.user
        accounts = [Account(username=user, password=registers.secret)] if registers is not None else []
        identity = Identity(uri=SipUri(user=quote(user), host=host), address=(box.jack.address, box.sip_port))
        self._endpoint = Endpoint(identity, chance=chance, accounts=accounts)
        self._endpoint_at = identity.address
        self._contact = told(identity.contact, serial=box.serial, generation=box.generation)
        self._listener = listener

    # the five calls

    def receive(self, data: bytes, *, source: tuple[str, int], now_s: float) -> None:
        """Take a packet."""
        self._endpoint.receive_datagram(data, source=source, now_s=now_s)

    def datagrams(self) -> list[tuple[bytes, tuple[str, int]]]:
        """Return what is to be sent."""
        return self._endpoint.datagrams_to_send()

    def timer_at(self) -> float | None:
        """Return when ``handle_timer`` is to be called."""
        return self._endpoint.timer_at()

    def handle_timer(self, now_s: float) -> None:
        """Do what is due."""
        self._endpoint.handle_timer(now_s)

    def tell(self, now_s: float) -> None:
        """Tell the listener all that happened; what it does about it may make more happen."""
        del now_s
        while (event := self._endpoint.next_event()) is not None:
            self._tell_one(event)

    def _tell_one(self, event: Happening) -> None:
        listener = self._listener
        match event:
            case Invited(call=call, request=request):
                called, caller = _user(request.uri), _user(request.headers.from_.uri)
                listener.on_invited(call, called=called, caller=caller, offer=request.body)
            case Progress(call=call):
                listener.on_ringing(call)
            case Answered(call=call, response=response):
                listener.on_answered(call, response.body)
            case Refused(call=call, code=code):
                listener.on_refused(call, code)
            case Informed(call=call, request=request):
                key = _key(request)
                if key is not None:
                    listener.on_informed(call, key)
            case Ended(call=call):
                listener.on_ended(call)
            case Replied(method="REGISTER", code=code, response=response):
                listener.on_registered(code, _holds_s(response, self._endpoint_at) if response is not None else None)

    # calls; what comes too late because the other end was faster is passed over

    def register(self, registers: Registration, *, asked_s: int, now_s: float) -> None:
        """Register as it is entered."""
        target = f"sip:{registers.address}:{registers.port}"
        self._endpoint.register(target, now_s=now_s, expires_s=asked_s, contact=self._contact)

    def invite(self, target: str, *, offer: bytes, now_s: float) -> int:
        """Call an address and return the number of the call."""
        return self._endpoint.invite(target, now_s=now_s, body=offer)

    def ring(self, call: int, *, now_s: float) -> None:
        """Say that it rings here."""
        with suppress(LocalError):
            self._endpoint.ring(call, now_s=now_s)

    def answer(self, call: int, answer: bytes, *, now_s: float) -> None:
        """Take a call."""
        with suppress(LocalError):
            self._endpoint.answer(call, now_s=now_s, body=answer)

    def refuse(self, call: int, code: int, *, now_s: float) -> None:
        """Refuse a call."""
        with suppress(LocalError):
            self._endpoint.refuse(call, now_s=now_s, code=code)

    def hang_up(self, call: int, *, now_s: float) -> None:
        """End a call however far it is."""
        for end in (self._endpoint.bye, self._endpoint.cancel):
            try:
                end(call, now_s=now_s)
            except LocalError:
                continue
            return
        self.refuse(call, 480, now_s=now_s)

    def inform(self, call: int, key: str, *, now_s: float) -> None:
        """Tell a key by INFO."""
        with suppress(LocalError):
            self._endpoint.info(call, body=print_info(InfoKey(key=key, duration_ms=100)), now_s=now_s)


def _holds_s(response: Response, at: tuple[str, int]) -> int | None:
    """Return for how long we are registered (RFC 3261 §10.2.4): as our contact in the answer says, or the whole."""
    try:
        ours = next((c for c in response.headers.contacts if isinstance(c.uri, SipUri) and _spot(c.uri) == at), None)
        told = ours.params.get("expires") if ours is not None else None
        return lenient_seconds(told) if told is not None else response.headers.expires_s
    except PeerError:
        return None


def _spot(uri: SipUri) -> tuple[str, int]:
    return uri.host, uri.port or SIP_PORT


def _user(uri: object) -> str:
    return uri.user_text if isinstance(uri, SipUri) else ""


def _key(request: Request) -> str | None:
    try:
        return parse_info(request.body, content_type=request.headers.get("Content-Type") or "").key
    except PeerError:
        return None
