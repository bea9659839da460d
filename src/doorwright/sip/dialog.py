"""Dialogs: what two ends remember of each other between the requests of one call (RFC 3261 §12)."""

from collections.abc import Iterable
from dataclasses import dataclass, replace

from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.grammar import Parameters
from doorwright.sip.headers import HIGHEST_SEQUENCE, Headers
from doorwright.sip.message import Request, Response
from doorwright.sip.return_path import Address, numeric_address
from doorwright.sip.transaction import MAX_FORWARDS
from doorwright.sip.uri import NameAddr, SipUri, Uri

DialogId = tuple[str, str, str]
"""Call-ID, our tag, their tag (§12). A tag is "" where an old station gave none (§12.1.1)."""


@dataclass(eq=False, slots=True, kw_only=True)
class Dialog:
    """One dialog, from one end's view.

    Attributes:
        local: our address with our tag: From in what we ask, To in what we are asked.
        remote: theirs.
        target: where requests are for: their latest Contact.
        routes: the hops between, nearest first.
        local_number: the CSeq of our latest request; None before the first.
        remote_number: the CSeq of their latest; None before the first.
        peer: where the first message went to or came from: used where the next hop is a name.
        early: whether no 2xx has been sent or received yet.
    """

    call_id: str
    local: NameAddr
    remote: NameAddr
    target: Uri
    routes: tuple[NameAddr, ...]
    peer: Address
    local_number: int | None = None
    remote_number: int | None = None
    early: bool = True

    @classmethod
    def of_callee(cls, request: Request, *, tag: str, peer: Address) -> "Dialog":
        """The dialog of an INVITE that we got and answer with this tag (§12.1.1).

        Raises:
            PeerError: it has no Contact, or none that can be read.
        """
        headers = request.headers
        if not headers.contacts:
            raise PeerError("an INVITE without a Contact", clause="RFC 3261 §8.1.1.8")
        return cls(
            call_id=headers.call_id,
            local=replace(headers.to, params=headers.to.params.having("tag", tag)),
            remote=headers.from_,
            target=headers.contacts[0].uri,
            routes=headers.record_routes,
            peer=peer,
            remote_number=headers.cseq.number,
        )

    @classmethod
    def of_caller(cls, request: Request, response: Response, *, peer: Address) -> "Dialog":
        """The dialog of an INVITE that we sent and of a response with a tag (§12.1.2). PeerError as above."""
        dialog = cls(
            call_id=request.headers.call_id,
            local=request.headers.from_,
            remote=response.headers.to,
            target=request.uri,
            routes=(),
            peer=peer,
            local_number=request.headers.cseq.number,
        )
        dialog.learn(response)
        return dialog

    @property
    def id(self) -> DialogId:
        """What its messages are known by."""
        return (self.call_id, self.local.tag or "", self.remote.tag or "")

    def learn(self, response: Response) -> None:
        """Take contact and route of a response that sets up the dialog: the 2xx has the last word (§13.2.2.4).

        A response without a Contact, against §12.1.1, leaves the target where it was.
        """
        if response.headers.contacts:
            self.target = response.headers.contacts[0].uri
        self.routes = tuple(reversed(response.headers.record_routes))
        self.early = not response.is_success

    def refresh(self, message: Request | Response) -> None:
        """Take the contact of a re-INVITE or of its 2xx (§12.2.1.2, §12.2.2); the route stays."""
        if message.headers.contacts:
            self.target = message.headers.contacts[0].uri

    def take(self, request: Request) -> None:
        """Take the number of a request in the dialog.

        Raises:
            PeerError: a later one came before (§12.2.2: 500).
        """
        number = request.headers.cseq.number
        if self.remote_number is not None and number <= self.remote_number:
            raise PeerError("a request after a later one", code=500, clause="RFC 3261 §12.2.2")
        self.remote_number = number

    def next_number(self) -> int:
        """The CSeq of our next request."""
        number = 1 if self.local_number is None else self.local_number + 1
        if number > HIGHEST_SEQUENCE:
            raise LocalError("the dialog has no numbers left")
        self.local_number = number
        return number

    @property
    def next_hop(self) -> Address:
        """Where our requests go: to the first route, else to the target; to the old peer where that is a name."""
        uri = self.routes[0].uri if self.routes else self.target
        found = numeric_address(uri.host, uri.port) if isinstance(uri, SipUri) else None
        return found or self.peer

    def request(
        self,
        method: str,
        *,
        number: int,
        via: str,
        headers: Iterable[tuple[str, str]] = (),
        body: bytes = b"",
    ) -> Request:
        """A request in the dialog (§12.2.1.1). `number` is `next_number()`, or that of the INVITE for an ACK."""
        target, routes = str(self.target), [str(route) for route in self.routes]
        if self.routes and not _is_loose(self.routes[0].uri):
            # A hop from before RFC 3261 finds itself in the Request-URI, and the target at the end of the route.
            routes = [*routes[1:], f"<{self.target}>"]
            target = _for_request_line(self.routes[0].uri)
        pairs = [
            ("Via", via),
            ("Max-Forwards", MAX_FORWARDS),
            *(("Route", route) for route in routes),
            ("From", str(self.local)),
            ("To", str(self.remote)),
            ("Call-ID", self.call_id),
            ("CSeq", f"{number} {method}"),
            *headers,
        ]
        return Request(method, target, Headers(pairs), body)


def _is_loose(uri: Uri) -> bool:
    return isinstance(uri, SipUri) and "lr" in uri.params


def _for_request_line(uri: Uri) -> str:
    """The address without what may not stand on a request line (§19.1.1 table 1)."""
    if not isinstance(uri, SipUri):
        return str(uri)
    params = Parameters(tuple(pair for pair in uri.params if pair[0].lower() != "method"))
    return str(replace(uri, params=params, headers=()))
