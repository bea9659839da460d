"""What is wrong with a message that could be split: apart from reading, so that a faulty request gets its right answer.

`validate` holds for everybody; the others add what one role must look at: the end that a request is for (§8.2), the
registrar (§10.3), a proxy on the way (§16.3), the end that gets a response (§8.1.3). Each returns all faults, the one
to answer first. A fault in a response is never answered: the response is dropped.
"""

from dataclasses import dataclass

from doorwright.sip.errors import PeerError
from doorwright.sip.grammar import Parameters, split_list
from doorwright.sip.headers import Headers
from doorwright.sip.message import VERSION, Message, Request, Response
from doorwright.sip.uri import OpaqueUri, SipUri

# Every method that an RFC names: 3261, 3262, 3311, 3428, 3515, 3903, 6086, 6665. Others are answered 501, these 405
# where we do not serve them (§8.2.1, §21.5.2).
METHODS = frozenset(
    [
        "ACK",
        "BYE",
        "CANCEL",
        "INFO",
        "INVITE",
        "MESSAGE",
        "NOTIFY",
        "OPTIONS",
        "PRACK",
        "PUBLISH",
        "REFER",
        "REGISTER",
        "SUBSCRIBE",
        "UPDATE",
    ]
)
_NEEDED = ("vias", "to", "from_", "call_id", "cseq")
# Names in small letters, as `Headers.names` tells them, and what reads them; nothing is wrong with one that is missing.
_FOR_ALL = {
    "max-forwards": "max_forwards",
    "record-route": "record_routes",
    "contact": "contacts",
    "content-type": "content_type",
}
_OF_REQUESTS = {**_FOR_ALL, "route": "routes", "content-length": "content_length"}
_OF_RESPONSES = {**_FOR_ALL, "content-length": "content_length"}
_LISTS = ("require", "proxy-require", "supported", "allow", "accept", "content-encoding")


@dataclass(frozen=True, slots=True, kw_only=True)
class Abilities:
    """What an end understands. The lists are told to the other side where it asks for more.

    Attributes:
        extensions: option tags for Require; there are none in our subset.
        content_types: bodies that are read, in small letters.
        answers: the type of the body that an INVITE is answered with.
    """

    methods: tuple[str, ...] = ("INVITE", "ACK", "BYE", "CANCEL", "REGISTER", "OPTIONS", "INFO")
    schemes: tuple[str, ...] = ("sip",)
    extensions: tuple[str, ...] = ()
    content_types: tuple[str, ...] = ("application/sdp", "application/dtmf-relay", "application/dtmf")
    answers: str = "application/sdp"


def _unreadable(headers: Headers, views: dict[str, str]) -> list[PeerError]:
    there = headers.names
    faults: list[PeerError] = []
    for view in (*_NEEDED, *[view for name, view in views.items() if name in there]):
        try:
            getattr(headers, view)
        except PeerError as fault:
            faults.append(fault)
    return faults


def _unsplittable(headers: Headers) -> list[PeerError]:
    there = headers.names
    faults: list[PeerError] = []
    for name in _LISTS:
        if name in there:
            try:
                headers.values(name)
            except PeerError as fault:
                faults.append(fault)
    return faults


def _distinct(faults: list[PeerError]) -> tuple[PeerError, ...]:
    kept: dict[tuple[int, str], PeerError] = {}
    for fault in faults:
        kept.setdefault((fault.code, fault.problem), fault)
    return tuple(kept.values())


def _request_faults(request: Request) -> list[PeerError]:
    faults = [
        *request.faults,
        *_unreadable(request.headers, _OF_REQUESTS),
        *_unsplittable(request.headers),
    ]
    try:
        uri = request.uri
    except PeerError as fault:
        faults.append(fault)
    else:
        if isinstance(uri, SipUri) and uri.headers:
            # RFC 4475 §3.1.2.11 would let us pass over them; we do not guess what the sender meant.
            faults.append(PeerError("headers in the address of the request", clause="RFC 3261 §19.1.1"))
    faults += _method_faults(request)
    if request.method != "REGISTER" and "Contact" in request.headers:
        faults += _contact_faults(request)
    return faults


def _method_faults(request: Request) -> list[PeerError]:
    try:
        told = request.headers.cseq.method
    except PeerError:
        return []  # told as unreadable before
    if told == request.method:
        return []
    fault = PeerError("the method in CSeq is another than that of the request", clause="RFC 3261 §8.1.1.5")
    if request.method not in METHODS:
        # RFC 4475 §3.1.2.18: 400 and 501 are both right; 501 tells a newer sender what to change.
        return [PeerError("a method that nobody knows", code=501, clause="RFC 3261 §21.5.2"), fault]
    return [fault]


def _contact_faults(request: Request) -> list[PeerError]:
    try:
        if request.headers.contact_star:
            return [PeerError('Contact "*" outside a registration', clause="RFC 3261 §20.10")]
        several = request.method == "INVITE" and len(request.headers.contacts) > 1
    except PeerError:
        return []  # told as unreadable before
    return [PeerError("an INVITE with more than one Contact", clause="RFC 3261 §8.1.1.8")] if several else []


def validate(message: Message) -> tuple[PeerError, ...]:
    """Everything that is wrong with the message for any receiver; the first is the one to answer."""
    if message.version != VERSION:
        # Nothing else is judged: another version may have other rules.
        return (PeerError("another version of the protocol", code=505, clause="RFC 3261 §21.5.6"),)
    if isinstance(message, Request):
        return _distinct(_request_faults(message))
    faults = [*message.faults, *_unreadable(message.headers, _OF_RESPONSES)]
    if not 100 <= message.code <= 699:
        faults.append(PeerError("a response code that is not 100 to 699", clause="RFC 3261 §7.2"))
    return _distinct(faults)


def _extension_faults(request: Request, name: str, known: tuple[str, ...], clause: str) -> list[PeerError]:
    unknown = [tag for tag in request.headers.tokens(name) if tag.lower() not in known]
    if not unknown:
        return []
    told = tuple(("Unsupported", tag) for tag in unknown)
    return [PeerError("an extension is required that we do not have", code=420, clause=clause, headers=told)]


def faults_for_server(request: Request, abilities: Abilities) -> tuple[PeerError, ...]:
    """What the end that a valid request is for cannot do, in the order of §8.2: method, address, extensions, body."""
    faults: list[PeerError] = []
    if request.method not in abilities.methods:
        if request.method in METHODS:
            told = (("Allow", ", ".join(abilities.methods)),)
            fault = PeerError("a method that we do not serve", code=405, clause="RFC 3261 §8.2.1", headers=told)
        else:
            fault = PeerError("a method that nobody knows", code=501, clause="RFC 3261 §21.5.2")
        faults.append(fault)
    if request.uri.scheme not in abilities.schemes:
        faults.append(PeerError("an address of a scheme we do not serve", code=416, clause="RFC 3261 §8.2.2.1"))
    if request.method not in {"ACK", "CANCEL"}:  # §8.2.2.3: Require is passed over in both
        faults += _extension_faults(request, "Require", abilities.extensions, "RFC 3261 §8.2.2.3")
    faults += _body_faults(request, abilities)
    if request.method == "INVITE" and not _accepts(request.headers, abilities.answers):
        problem = f"no body of {abilities.answers} is taken, and we answer with no other"
        faults.append(PeerError(problem, code=406, clause="RFC 3261 §21.4.7"))
    return tuple(faults)


def _body_faults(request: Request, abilities: Abilities) -> list[PeerError]:
    """§8.2.3: type and encoding of a body that must be understood."""
    if not request.body or _handling_is_optional(request.headers):
        return []
    faults: list[PeerError] = []
    kind = request.headers.content_type
    if kind is None or kind not in abilities.content_types:
        told = (("Accept", ", ".join(abilities.content_types)),)
        faults.append(PeerError("a body of a type we do not read", code=415, clause="RFC 3261 §8.2.3", headers=told))
    if any(coding.lower() != "identity" for coding in request.headers.tokens("Content-Encoding")):
        told = (("Accept-Encoding", "identity"),)
        faults.append(PeerError("an encoded body", code=415, clause="RFC 3261 §8.2.3", headers=told))
    return faults


def _handling_is_optional(headers: Headers) -> bool:
    try:
        params = Parameters.from_pieces(split_list(headers.get("Content-Disposition") or "", ";")[1:])
    except PeerError:
        return False
    return (params.get("handling") or "").lower() == "optional"


def _accepts(headers: Headers, wanted: str) -> bool:
    """Whether Accept lets a body of this type through; without Accept it is application/sdp (§20.1)."""
    lines = headers.all("Accept")
    if not lines:
        return wanted == "application/sdp"
    ranges = [value.partition(";")[0].replace(" ", "").lower() for value in headers.values("Accept")]
    return not {"*/*", f"{wanted.partition('/')[0]}/*", wanted}.isdisjoint(ranges)


def faults_for_registrar(request: Request) -> tuple[PeerError, ...]:
    """What a registrar refuses in a valid REGISTER before it looks at credentials (§10.3 steps 5 and 6)."""
    faults: list[PeerError] = []
    if isinstance(request.headers.to.uri, OpaqueUri):
        faults.append(PeerError("To names no address of this protocol", clause="RFC 3261 §10.3"))
    if request.headers.contact_star and request.headers.expires_s != 0:
        faults.append(PeerError('Contact "*" without Expires 0', clause="RFC 3261 §10.3"))
    return tuple(faults)


def faults_for_proxy(request: Request, extensions: tuple[str, ...] = ()) -> tuple[PeerError, ...]:
    """What a proxy may not pass on, in the order of §16.3: address, hops, extensions."""
    faults: list[PeerError] = []
    if isinstance(request.uri, OpaqueUri):
        faults.append(PeerError("an address of a scheme we cannot route", code=416, clause="RFC 3261 §16.3"))
    if request.headers.max_forwards == 0:
        faults.append(PeerError("no hops are left", code=483, clause="RFC 3261 §16.3"))
    faults += _extension_faults(request, "Proxy-Require", extensions, "RFC 3261 §16.3")
    return tuple(faults)


def faults_for_client(response: Response) -> tuple[PeerError, ...]:
    """Why the end that gets a valid response drops it: more than one Via means it is not for us (§8.1.3.3)."""
    if len(response.headers.vias) > 1:
        return (PeerError("a response that has further to go than here", clause="RFC 3261 §8.1.3.3"),)
    return ()
