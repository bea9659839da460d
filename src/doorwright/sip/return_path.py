"""Where a response goes: the way its request came (RFC 3261 §18.2, RFC 3581)."""

from ipaddress import ip_address

from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import Parameters
from doorwright.sip.headers import Via
from doorwright.sip.message import Request

Address = tuple[str, int]
"""Host as an IP address without brackets, and port."""
PORT = 5060  # §19.1.2, for UDP and TCP


def is_reliable(via: Via) -> bool:
    """Whether the transport brings each message once and in order, so that nothing is sent again (§17)."""
    return via.transport != "UDP"


def same_host(one: str, other: str) -> bool:
    """Whether two hosts are one address, or one name."""
    if one == other:
        return True
    try:
        return ip_address(one.strip("[]")) == ip_address(other.strip("[]"))
    except ValueError:
        return one.lower() == other.lower()


def marked(request: Request, source: Address) -> Request:
    """The request with where it really came from in its top Via, as its receiver writes it down.

    `received` is added where the sender names another host (§18.2.1), and always where it asks for `rport` (RFC 3581
    §4). What the sender itself wrote there is not believed.

    Raises:
        PeerError: the top Via cannot be read.
    """
    via = request.headers.via
    host, port = source
    told: list[tuple[str, str | None]] = []
    for name, value in via.params.pairs:
        small = name.lower()
        if small != "received":
            told.append((name, str(port) if small == "rport" else value))
    if via.wants_rport or not same_host(via.host, host):
        told.append(("received", host))
    params = Parameters(tuple(told))
    if params == via.params:
        return request
    seen = Via(transport=via.transport, host=via.host, port=via.port, params=params, version=via.version)
    return request.with_headers(request.headers.having_top(seen))


def reply_address(via: Via) -> Address:
    """Where a response with this top Via goes over UDP (§18.2.2, RFC 3581 §4).

    Raises:
        PeerError: the port in `rport` is none.
    """
    host = via.received or via.host
    return host.strip("[]"), via.rport or via.port or PORT


def numeric_address(host: str, port: int | None) -> Address | None:
    """The address that a host and port of a URI mean; None where the host is a name, for names are not looked up."""
    bare = host.strip("[]")
    try:
        ip_address(bare)
    except ValueError:
        return None
    return bare, port or PORT


def sent_by(via: Via) -> str:
    """The sender of a Via, for comparing (§17.2.3)."""
    return f"{via.host.lower()}:{via.port or PORT}"


def top_via(request: Request) -> str:
    """The text of the latest hop alone; PeerError where there is none."""
    values = request.headers.values("Via")
    if not values:
        raise PeerError("Via is missing", clause="RFC 3261 §8.1.1")
    return values[0]
