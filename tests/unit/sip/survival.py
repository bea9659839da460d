"""What must hold for any bytes: a message or a PeerError, and nothing else, whatever is asked of the message then."""

import contextlib
from functools import cached_property

from doorwright.sip.errors import PeerError
from doorwright.sip.headers import Headers
from doorwright.sip.message import Request, Response, StreamReader, parse, response_to
from doorwright.sip.validate import (
    Abilities,
    faults_for_client,
    faults_for_proxy,
    faults_for_registrar,
    faults_for_server,
    validate,
)

VIEWS = [name for name, kind in vars(Headers).items() if isinstance(kind, cached_property) and name[0] != "_"]


def survive(data: bytes) -> Request | Response | None:
    """Read, ask for all views, judge, answer, print: the message, or None where PeerError said that it is none."""
    cut = StreamReader().receive(data)
    assert not any(isinstance(item, PeerError) for item in cut[:-1])  # only the last can be one
    try:
        message = parse(data)
    except PeerError:
        return None
    for view in VIEWS:
        with contextlib.suppress(PeerError):
            getattr(message.headers, view)
    faults = validate(message)
    assert all(400 <= fault.code <= 699 for fault in faults)
    if isinstance(message, Request):
        answer = response_to(message, faults[0].code if faults else 200, to_tag="here")
        again = parse(answer.to_bytes())
        assert isinstance(again, Response)
        assert not again.faults
    if not faults:
        if isinstance(message, Request):
            faults_for_server(message, Abilities())
            faults_for_proxy(message)
            faults_for_registrar(message)
        else:
            faults_for_client(message)
        printed = parse(message.to_bytes())
        assert printed.headers.without("Content-Length") == message.headers.without("Content-Length")
        assert printed.body == message.body
        assert printed.to_bytes() == message.to_bytes()
    return message
