"""What a unit tells of itself when it registers: the serial number on its box, and which pairing its firmware speaks.

Both stand beside its contact, where a registrar passes over what it does not know (RFC 3261 §20.10): the serial as an
instance identifier (RFC 5626 §4.1), a name-based UUID so that the number itself stays at home (RFC 9562 §5.5); the
pairing by a parameter of our own, for it is each maker's own affair.
"""

from typing import Final
from uuid import NAMESPACE_OID, uuid5

from doorwright.sip.errors import PeerError
from doorwright.sip.message import Request

_INSTANCE: Final = "+sip.instance"
_PAIRING: Final = "pairing"


def told(contact: str, *, serial: str | None, generation: int | None) -> str:
    """Return a contact with what is known of the unit beside it."""
    instance = "" if serial is None else f';{_INSTANCE}="<{_urn(serial)}>"'
    return contact + instance + ("" if generation is None else f";{_PAIRING}={generation}")


def is_of(request: Request, serial: str) -> bool:
    """Say whether a registration comes from the unit of a serial number."""
    return _param(request, _INSTANCE) == f"<{_urn(serial)}>"


def generation_of(request: Request) -> int | None:
    """Return the pairing that a registration speaks, None where it does not say."""
    said = _param(request, _PAIRING)
    return int(said) if said is not None and said.isdecimal() else None


def _urn(serial: str) -> str:
    return uuid5(NAMESPACE_OID, serial).urn


def _param(request: Request, name: str) -> str | None:
    try:
        found = (contact.params.get(name) for contact in request.headers.contacts)
        return next((value for value in found if value is not None), None)
    except PeerError:
        return None
