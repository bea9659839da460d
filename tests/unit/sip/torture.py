"""What must become of each torture message of RFC 4475: the tests and docs/reference/sip-torture.md share this table.

`asks` says in our words what the section of the RFC asks of the receiver, `does` what we do, `outcome` the same for a
machine. The messages are in `torture_messages.py`: written for this project, each with the defect of its section.
"""

from dataclasses import dataclass
from typing import Literal

Role = Literal["server", "registrar", "proxy", "client"]


@dataclass(frozen=True, slots=True)
class Case:
    """One message: `outcome` is the code of the refusal, "accepted", or "dropped"; `role` is who receives it."""

    name: str
    section: str
    role: Role
    outcome: int | Literal["accepted", "dropped"]
    asks: str
    does: str


CASES = (
    Case("wsinv", "3.1.1.1", "server", "accepted", "take odd spacing, folding, case, compact names", "accepted"),
    Case("intmeth", "3.1.1.2", "server", 501, "read every legal letter; the method is unknown", "read, then 501"),
    Case("esc01", "3.1.1.3", "server", "accepted", "keep escapes; the user is not an address in itself", "accepted"),
    Case("escnull", "3.1.1.4", "registrar", "accepted", "two contacts that differ by escaped NULs", "accepted, two"),
    Case("esc02", "3.1.1.5", "server", 501, "a percent sign in a method or a header name escapes nothing", "501"),
    Case("lwsdisp", "3.1.1.6", "server", "accepted", "no space between display name and bracket", "accepted"),
    Case("longreq", "3.1.1.7", "server", "accepted", "long values and many hops", "accepted"),
    Case("dblreq", "3.1.1.8", "registrar", "accepted", "pass over what follows the message in a datagram", "accepted"),
    Case("semiuri", "3.1.1.9", "server", "accepted", "a semicolon in the user part is no parameter", "accepted"),
    Case("transports", "3.1.1.10", "server", "accepted", "unknown transports in Via are well formed", "accepted"),
    Case(
        "mpart01", "3.1.1.11", "server", 405, "bytes of any value in a body; MESSAGE may be unserved", "read, then 405"
    ),
    Case("unreason", "3.1.1.12", "client", "accepted", "letters of any script in the reason", "accepted"),
    Case("noreason", "3.1.1.13", "client", "accepted", "an empty reason", "accepted"),
    Case("badinv01", "3.1.2.1", "server", 400, "empty parameters and values in Via and Contact: 400", "400"),
    Case(
        "clerr",
        "3.1.2.2",
        "server",
        400,
        "the body is shorter than told: 400; on a stream wait",
        "400; waits on a stream",
    ),
    Case(
        "ncl", "3.1.2.3", "server", 400, "negative Content-Length: an error; on a stream close", "400; closes a stream"
    ),
    Case("scalar02", "3.1.2.4", "registrar", 400, "numbers out of range: 400 for CSeq", "400"),
    Case("scalarlg", "3.1.2.5", "client", "dropped", "numbers out of range in a response: drop", "dropped"),
    Case("quotbal", "3.1.2.6", "server", 400, "an open quotation mark: 400, or guess", "400, no guess"),
    Case("ltgtruri", "3.1.2.7", "server", 400, "brackets around the request's address: 400, or pass over", "400"),
    Case("lwsruri", "3.1.2.8", "server", 400, "spaces in the request's address: 400, or pass over", "400"),
    Case("lwsstart", "3.1.2.9", "server", 400, "more than one space in the start line: 400, or pass over", "400"),
    Case("trws", "3.1.2.10", "server", 400, "spaces after the version: 400, or pass over", "400"),
    Case("escruri", "3.1.2.11", "server", 400, "headers in the request's address: 400, or pass over", "400"),
    Case(
        "baddate",
        "3.1.2.12",
        "server",
        "accepted",
        "Date not in GMT: refuse only if Date matters",
        "accepted: Date is not used",
    ),
    Case("regbadct", "3.1.2.13", "registrar", 400, "a contact with headers but no brackets: 400", "400"),
    Case("badaspec", "3.1.2.14", "server", 400, "spaces within the brackets of To: 400, or pass over", "400"),
    Case("baddn", "3.1.2.15", "server", 400, "a display name that had to be quoted: 400, or pass over", "400"),
    Case("badvers", "3.1.2.16", "server", 505, "a higher version: 505", "505"),
    Case("mismatch01", "3.1.2.17", "server", 400, "CSeq names another method: 400", "400"),
    Case("mismatch02", "3.1.2.18", "server", 501, "the same with an unknown method: 501 (400 is right too)", "501"),
    Case("bigcode", "3.1.2.19", "client", "dropped", "a response code above 699: drop", "dropped"),
    Case(
        "badbranch",
        "3.2.1",
        "server",
        "accepted",
        "a branch of the cookie alone: 400, or match as RFC 2543",
        "accepted, as of RFC 2543",
    ),
    Case("insuf", "3.3.1", "server", 400, "To, From and Call-ID are missing: 400", "400"),
    Case("unkscm", "3.3.2", "server", 416, "an unknown scheme: 416", "416"),
    Case("novelsc", "3.3.3", "server", 416, "a known scheme of no use here: 416", "416"),
    Case("unksm2", "3.3.4", "registrar", 400, "To of another scheme: a registrar answers 400", "400"),
    Case("bext01", "3.3.5", "server", 420, "unknown extensions: 420 with Unsupported", "420, all named"),
    Case("invut", "3.3.6", "server", 415, "an unknown body: 415 with Accept", "415"),
    Case(
        "regaut01",
        "3.3.7",
        "registrar",
        "accepted",
        "unknown credentials: as if there were none",
        "valid; a registrar with accounts challenges",
    ),
    Case("multi01", "3.3.8", "server", 400, "single headers that are repeated: 400", "400"),
    Case("mcl01", "3.3.9", "server", 400, "two Content-Lengths: an error; on a stream close", "400; closes a stream"),
    Case("bcast", "3.3.10", "client", "dropped", "a response with a second Via: an end drops it", "dropped"),
    Case(
        "zeromf",
        "3.3.11",
        "proxy",
        483,
        "no hops left: a proxy answers 483, an end accepts",
        "483 as proxy, else accepted",
    ),
    Case("cparam01", "3.3.12", "registrar", "accepted", "a parameter without brackets is the contact's", "accepted"),
    Case("cparam02", "3.3.13", "registrar", "accepted", "a parameter within brackets is the address's", "accepted"),
    Case("regescrt", "3.3.14", "registrar", "accepted", "headers in a bracketed contact are kept", "accepted"),
    Case("sdp01", "3.3.15", "server", 406, "no body we could answer with is taken: 406", "406"),
    Case(
        "inv2543",
        "3.4.1",
        "server",
        "accepted",
        "no branch, From tag, Max-Forwards, Content-Length: accept",
        "accepted",
    ),
)
