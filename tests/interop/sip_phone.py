"""A small SIP unit for tests against a real server: one UDP socket, RFC 3261 by the code of ``doorwright.sip``."""

import itertools
import socket

from doorwright.sip.digest import Account, answer, parse_challenge
from doorwright.sip.headers import Headers
from doorwright.sip.message import Request, Response, parse, response_to

_COUNT = itertools.count(1)
PATIENCE_S = 10.0
"""How long a unit waits for what must come; nothing that works takes a tenth of it."""


class Phone:
    """A unit at an address of its own."""

    def __init__(self, user: str, secret: str, realm: str, address: str, server: tuple[str, int]) -> None:
        self.user, self.server, self.realm = user, server, realm
        self.account = Account(username=user, password=secret)
        self.socket = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
        self.socket.bind((address, 0))
        self.socket.settimeout(PATIENCE_S)
        self.host = "{}:{}".format(*self.socket.getsockname())
        self.is_registered = False

    def close(self) -> None:
        """Leave the server, where it was registered, and go."""
        if self.is_registered:
            assert self.register(expires_s=0)[1].code == 200
        self.socket.close()

    def send(self, message: Request | Response) -> None:
        self.socket.sendto(message.to_bytes(), self.server)

    def receive(self) -> Request | Response:
        return parse(self.socket.recv(65535))

    def request(self, method: str, target: str, to: str, *, name: str = "") -> Request:
        n = next(_COUNT)
        return Request(
            method,
            target,
            Headers(
                [
                    ("Via", f"SIP/2.0/UDP {self.host};branch=z9hG4bK{n};rport"),
                    ("Max-Forwards", "70"),
                    ("From", f"<sip:{name or self.user}@{self.realm}>;tag=t{n}"),
                    ("To", f"<sip:{to}@{self.realm}>"),
                    ("Call-ID", f"call-{n}@{self.host}"),
                    ("CSeq", f"1 {method}"),
                    ("Contact", f"<sip:{self.user}@{self.host}>"),
                ]
            ),
        )

    def answered(self, request: Request) -> Response:
        """Send a request and return its final response."""
        self.send(request)
        return self.final(request)

    def final(self, request: Request) -> Response:
        """Return the final response to a request that was sent, acknowledged where it is an INVITE's."""
        while True:
            got = self.receive()
            if isinstance(got, Response) and got.is_final and _about(got) == _about(request):
                if request.method == "INVITE":
                    self._acknowledge(request, got)
                return got

    def _acknowledge(self, request: Request, got: Response) -> None:
        if got.is_success:
            return
        kept = [(name, value) for name, value in request.headers if name in {"Via", "From", "Call-ID", "Max-Forwards"}]
        to = got.headers.get("To") or ""
        ack = Headers([*kept, ("To", to), ("CSeq", f"{request.headers.cseq.number} ACK")])
        self.send(Request("ACK", request.target, ack))

    def proved(self, request: Request, challenged: Response) -> Request:
        """Return the request with credentials for the challenge (RFC 3261 §22.2, §22.3)."""
        asks, says = (
            ("WWW-Authenticate", "Authorization")
            if challenged.code == 401
            else ("Proxy-Authenticate", "Proxy-Authorization")
        )
        challenge = parse_challenge(challenged.headers.get(asks) or "")
        assert challenge is not None
        told = answer(challenge, self.account, method=request.method, uri=request.target, cnonce="c0ffee")
        headers = request.headers.having("CSeq", f"{request.headers.cseq.number + 1} {request.method}")
        headers = headers.having("Via", f"SIP/2.0/UDP {self.host};branch=z9hG4bK{next(_COUNT)};rport")
        return request.with_headers(headers.adding(says, str(told)))

    def register(self, *, to: str = "", expires_s: int = 600) -> tuple[Response, Response]:
        """Register, and return what came before and after the proof."""
        request = self.request("REGISTER", f"sip:{self.realm}", to or self.user, name=to or self.user)
        first = self.answered(request)
        proved = self.proved(request, first)
        second = self.answered(proved.with_headers(proved.headers.adding("Expires", str(expires_s))))
        self.is_registered = second.code == 200 and expires_s > 0
        return first, second

    def invite(self, number: str) -> Request:
        """Call a number: send the INVITE with its proof, and return it."""
        request = self.request("INVITE", f"sip:{number}@{self.realm}", number)
        first = self.answered(request)
        assert first.code == 407, first
        proved = self.proved(request, first)
        self.send(proved)
        return proved

    def rung(self) -> Request:
        """Return the call that comes in, answered with 180."""
        while True:
            got = self.receive()
            if isinstance(got, Request) and got.method == "INVITE":
                self.send(response_to(got, 180, to_tag=f"tag-{self.host}"))
                return got

    def say(self, call: Request, code: int) -> None:
        """Answer a call."""
        own = [("Contact", f"<sip:{self.user}@{self.host}>")] if code < 300 else []
        kept = [("Record-Route", value) for value in call.headers.all("Record-Route")] if code < 300 else []
        self.send(response_to(call, code, to_tag=f"tag-{self.host}", headers=[*kept, *own]))

    def within(self, method: str, call: Request, answered: Response) -> Request:
        """Return a request of the caller's within the dialog that an answered call made (RFC 3261 §12.2.1.1)."""
        n = next(_COUNT)
        routes = [("Route", value) for value in reversed(answered.headers.all("Record-Route"))]
        number = call.headers.cseq.number + (method != "ACK")
        kept = [(name, value) for name, value in call.headers if name in {"From", "Call-ID", "Max-Forwards"}]
        return Request(
            method,
            str(answered.headers.contacts[0].uri),
            Headers(
                [
                    ("Via", f"SIP/2.0/UDP {self.host};branch=z9hG4bK{n};rport"),
                    *routes,
                    *kept,
                    ("To", answered.headers.get("To") or ""),
                    ("CSeq", f"{number} {method}"),
                ]
            ),
        )

    def asked(self, method: str) -> Request:
        """Wait for a request, answer it with 200 (but ACK), and return it."""
        while True:
            got = self.receive()
            if isinstance(got, Request) and got.method == method:
                if method != "ACK":
                    self.send(response_to(got, 200))
                return got

    def cancelled(self, call: Request) -> bool:
        """Wait for the CANCEL of a call and answer both."""
        while True:
            got = self.receive()
            if isinstance(got, Request) and got.method == "CANCEL":
                self.send(response_to(got, 200, to_tag=f"tag-{self.host}"))
                self.say(call, 487)
                return True
            if isinstance(got, Request) and got.method == "ACK":
                return False

    def hears_nothing(self) -> bool:
        """Say whether nothing lies waiting."""
        self.socket.setblocking(False)
        try:
            self.socket.recv(65535)
        except BlockingIOError:
            return True
        finally:
            self.socket.settimeout(PATIENCE_S)
        return False


def _about(message: Request | Response) -> tuple[str, str]:
    return message.headers.call_id, str(message.headers.cseq)
