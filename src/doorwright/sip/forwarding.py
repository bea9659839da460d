"""The copy of a request that a proxy sends on, and the response that it hands back (RFC 3261 §16.3 to §16.7).

Functions of messages only; `proxy.py` decides when, `forking.py` decides what among several.
"""

from dataclasses import dataclass, replace
from hashlib import sha256
from typing import Final

from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import Parameters, bounded
from doorwright.sip.headers import Via
from doorwright.sip.message import Request, Response
from doorwright.sip.return_path import PORT, Address, numeric_address, same_host, sent_by
from doorwright.sip.transaction import MAX_FORWARDS
from doorwright.sip.uri import NameAddr, SipUri, Uri

DEFAULT_BREADTH: Final = 60  # RFC 5393 §5.3.3: what a request without Max-Breadth may be split into at once
MOST_BREADTH: Final = 2**31 - 1


@dataclass(frozen=True, slots=True, kw_only=True)
class Here:
    """Who this proxy is on the wire.

    Attributes:
        address: where it listens, as it writes into Via.
        names: all hosts that mean it, in small letters.
    """

    address: Address
    names: frozenset[str]

    @property
    def host(self) -> str:
        """The host as it stands in a message: an IPv6 address in brackets."""
        host = self.address[0]
        return f"[{host}]" if ":" in host else host

    def is_meant_by(self, uri: Uri) -> bool:
        """Whether the address is this proxy itself: one of its names, and its port (5060 where none is written)."""
        return (
            isinstance(uri, SipUri)
            and (uri.host.lower() in self.names or same_host(uri.host, self.address[0]))
            and (uri.port or PORT) == self.address[1]
        )

    def via(self, branch: str) -> Via:
        """Our hop, asking for the port that answers shall come back to (RFC 3581 §3)."""
        params = Parameters((("rport", None), ("branch", branch)))
        return Via(transport="UDP", host=self.host, port=self.address[1], params=params)

    @property
    def record(self) -> str:
        """What we write into Record-Route (§16.6 step 4)."""
        return f"<sip:{self.host}:{self.address[1]};lr>"


def loop_mark(request: Request) -> str:
    """What is the same when the same request comes again, and another when it is to go elsewhere.

    A hash over what the way depends on (§16.6 step 8, without the topmost Via as RFC 5393 §4.2 demands, for that
    differs on each round of a loop).
    """
    headers = request.headers
    told = [
        request.target,
        headers.from_.tag or "",
        headers.to.tag or "",
        headers.call_id,
        str(headers.cseq.number),
        *(value for name in ("Route", "Proxy-Require", "Proxy-Authorization") for value in headers.all(name)),
    ]
    return sha256("\n".join(told).encode("utf-8", "surrogateescape")).hexdigest()[:16]


def branch_of(unique: str, mark: str) -> str:
    """A branch in two parts: one that no other has, and the mark (§16.6 step 8)."""
    return f"{unique}.{mark}"


def has_looped(request: Request, here: Here) -> bool:
    """Whether we have sent this very request on before (§16.3 step 4); sent elsewhere it is a spiral, which may be."""
    mark, ours = loop_mark(request), sent_by(here.via(""))
    return any(sent_by(via) == ours and via.branch.rpartition(".")[2] == mark for via in request.headers.vias)


def breadth_of(request: Request) -> int:
    """Into how many the request may be split at once, all hops taken together (RFC 5393 §5).

    Raises:
        PeerError: Max-Breadth is repeated or no number.
    """
    lines = request.headers.all("Max-Breadth")
    if not lines:
        return DEFAULT_BREADTH
    if len(lines) > 1:
        raise PeerError("Max-Breadth stands more than once", clause="RFC 5393 §5.2")
    return bounded(lines[0], what="Max-Breadth", high=MOST_BREADTH, clause="RFC 5393 §5.2")


def unrouted(request: Request, here: Here) -> Request:
    """The request without what was said to us about the way (§16.4)."""
    routes = list(request.headers.routes)
    if routes and isinstance(request.uri, SipUri) and request.uri.user is None and here.is_meant_by(request.uri):
        # A hop before us is a strict router: it put our Record-Route into the request line, the target at the end.
        request = replace(request, target=str(routes.pop().uri))
    if routes and here.is_meant_by(routes[0].uri):
        del routes[0]
    if len(routes) == len(request.headers.routes):
        return request
    return request.with_headers(request.headers.having("Route", *map(str, routes)))


def copy_for(request: Request, target: Uri, *, here: Here, branch: str, breadth: int, record: bool) -> Request:
    """The copy that goes to one target (§16.6 steps 1 to 6 and 8). The request is `unrouted`."""
    headers = request.headers
    left = headers.max_forwards
    headers = headers.having("Max-Forwards", MAX_FORWARDS if left is None else str(left - 1))
    headers = headers.having("Max-Breadth", str(breadth))
    target_text = str(_as_target(target))
    routes = headers.routes
    if routes and "lr" not in getattr(routes[0].uri, "params", ()):
        # The next hop is a strict router, and wants itself in the request line (step 6).
        last = NameAddr(_as_target(target))
        target_text = str(_as_target(routes[0].uri))
        headers = headers.having("Route", *map(str, routes[1:]), str(last))
    if record:
        headers = headers.leading("Record-Route", here.record)
    headers = headers.leading("Via", str(here.via(branch)))
    return replace(request, target=target_text, headers=headers)


def _as_target(uri: Uri) -> Uri:
    """The address as it may stand in a request line: without headers and `method` (§19.1.1 table 1).

    What headers a contact asks for is not done: a station could make us send anything to anyone (RFC 4475 §3.3.14).
    """
    if isinstance(uri, SipUri) and (uri.headers or "method" in uri.params):
        return replace(uri, headers=(), params=uri.params.without("method"))
    return uri


def hop_to(uri: Uri) -> Address | None:
    """Where a request for the address goes; None where that is a name, or not over UDP."""
    if not isinstance(uri, SipUri) or uri.scheme != "sip":
        return None
    if (uri.params.get("transport") or "udp").lower() != "udp":
        return None
    return numeric_address(uri.host, uri.port)


def next_hop(request: Request, target: Uri) -> Address | None:
    """Where the copy for a target goes: to the first Route that is left, or else to the target (§16.6 step 7)."""
    routes = request.headers.routes
    return hop_to(routes[0].uri if routes else target)


def handed_back(response: Response) -> Response | None:
    """The response without our Via (§16.7 step 3); None where no other is left, so that it was for us."""
    rest = response.headers.values("Via")[1:]
    return response.with_headers(response.headers.having("Via", *rest)) if rest else None
