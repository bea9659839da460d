"""The side that gets an INVITE: ringing, answers that are sent until acknowledged, CANCEL (RFC 3261 §9.2, §13.3)."""

from doorwright.sip.dialog import Dialog
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Connected, Invited, Reinvited, Why, Withdrawn
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.station import Call, Phase, Station, Wake
from doorwright.sip.transaction import Transaction


def invited(station: Station, transaction: Transaction, *, now_s: float) -> None:
    """Take a new INVITE (§13.3.1)."""
    tag = station.new_tag()
    try:
        dialog = Dialog.of_callee(transaction.request, tag=tag, peer=transaction.peer)
    except PeerError as fault:
        station.refuse(transaction, fault, now_s=now_s)
        return
    call = Call(id=station.next_id(), call_id=dialog.call_id, tag=tag, dialog=dialog, got=transaction)
    transaction.user = call
    station.calls[call.id] = call
    station.keep(call, dialog)
    station.events.append(Invited(call=call.id, request=transaction.request))
    expires_s = transaction.request.headers.expires_s
    if expires_s is not None:
        _expire_at(station, call, now_s + expires_s, now_s)


def _expire_at(station: Station, call: Call, end_s: float, now_s: float) -> None:
    """§13.3.1: an invitation that is not answered within its Expires gets 487.

    Looked at each minute: an Expires of years must not keep a call that was over in seconds.
    """
    if call.phase is not Phase.OFFERED or call.got is None:
        return
    if now_s < end_s:
        due_s = min(end_s, now_s + station.times.ringing_s)
        station.wake_at(due_s, lambda at_s: _expire_at(station, call, end_s, at_s))
        return
    station.respond(call.got, 487, tag=call.tag, now_s=now_s)
    call.got = None
    station.end(call, Why.EXPIRED)


def reinvited(station: Station, call: Call, dialog: Dialog, transaction: Transaction, *, now_s: float) -> None:
    """Take an INVITE within a call (§14.2)."""
    if call.got is not None:
        wait_s = station.chance(1)[0] % 11  # §14.2: between 0 and 10 seconds, by chance
        told = (("Retry-After", str(wait_s)),)
        fault = PeerError("an INVITE while another is open", code=500, clause="RFC 3261 §14.2", headers=told)
        station.refuse(transaction, fault, now_s=now_s)
    elif call.sent is not None and call.sent.is_open:
        fault = PeerError("an INVITE that crosses ours", code=491, clause="RFC 3261 §14.2")
        station.refuse(transaction, fault, now_s=now_s)
    elif call.phase is not Phase.LIVE:
        station.respond(transaction, 481, now_s=now_s)
    else:
        call.got = transaction
        transaction.user = call
        dialog.refresh(transaction.request)
        station.events.append(Reinvited(call=call.id, request=transaction.request))


def _open_invite(call: Call) -> Transaction:
    if call.got is None:
        raise LocalError("there is no open INVITE in this call to answer")
    return call.got


def _response(
    station: Station, call: Call, transaction: Transaction, code: int, *, body: bytes, content_type: str
) -> Response:
    request = transaction.request
    headers = [
        *(("Record-Route", value) for value in request.headers.all("Record-Route")),  # §12.1.1
        ("Contact", station.identity.contact),
        *(station.abilities_told() if code >= 200 else []),
        *([("Content-Type", content_type)] if body else []),
    ]
    return response_to(request, code, to_tag=call.tag, headers=headers, body=body)


def ring(station: Station, call: Call, *, code: int, body: bytes, content_type: str, now_s: float) -> None:
    """Say how it goes: 180 Ringing or another of 101 to 199; said again each minute (§13.3.1.1)."""
    transaction = _open_invite(call)
    if not 101 <= code <= 199:
        raise LocalError(f"{code} is no provisional response of ours")
    response = _response(station, call, transaction, code, body=body, content_type=content_type)
    station.transactions.respond(transaction, response, now_s=now_s)

    def again(at_s: float) -> None:
        station.transactions.respond(transaction, response, now_s=at_s)
        call.ringing = station.wake_at(at_s + station.times.ringing_s, again)

    _stop_ringing(call)
    call.ringing = station.wake_at(now_s + station.times.ringing_s, again)


def _stop_ringing(call: Call) -> None:
    if call.ringing is not None:
        call.ringing.called_off = True
        call.ringing = None


def answer(station: Station, call: Call, *, body: bytes, content_type: str, now_s: float) -> None:
    """Accept the INVITE; the 2xx is sent again until its ACK comes (§13.3.1.4)."""
    transaction = _open_invite(call)
    response = _response(station, call, transaction, 200, body=body, content_type=content_type)
    station.transactions.respond(transaction, response, now_s=now_s)
    call.got = None
    _stop_ringing(call)
    if call.phase is Phase.OFFERED:
        call.phase = Phase.LIVE
        if call.dialog is not None:
            call.dialog.early = False
    number = transaction.request.headers.cseq.number
    end_s = now_s + station.times.patience_s
    _repeat_later(station, call, number, transaction, wait_s=station.times.t1_s, end_s=end_s, now_s=now_s)


def _repeat_later(
    station: Station,
    call: Call,
    number: int,
    transaction: Transaction,
    *,
    wait_s: float,
    end_s: float,
    now_s: float,
) -> None:
    """§13.3.1.4: after T1, then doubled up to T2, over any transport; after 64 times T1 the call is given up."""

    def again(at_s: float) -> None:
        if at_s >= end_s:
            del call.repeats[number]
            _never_acknowledged(station, call, at_s)
            return
        if transaction.response is not None:
            # Not through the transaction: its Timer L ends at the same time as we do.
            station.transactions.send(transaction.response, peer=transaction.peer)
        longer_s = min(2 * wait_s, station.times.t2_s)
        _repeat_later(station, call, number, transaction, wait_s=longer_s, end_s=end_s, now_s=at_s)

    call.repeats[number] = station.wake_at(min(now_s + wait_s, end_s), again)


def _never_acknowledged(station: Station, call: Call, now_s: float) -> None:
    if call.dialog is not None and call.phase in (Phase.LIVE, Phase.LEAVING):
        station.bye(call.dialog, call, now_s=now_s)
        station.end(call, Why.WE_HUNG_UP if call.phase is Phase.LEAVING else Why.NOT_ACKNOWLEDGED)


def acknowledged(station: Station, call: Call, ack: Request, *, now_s: float) -> None:
    """Take the ACK of a 2xx; a copy says nothing new."""
    wake: Wake | None = call.repeats.pop(ack.headers.cseq.number, None)
    if wake is None:
        return
    wake.called_off = True
    if call.phase is Phase.LIVE:
        station.events.append(Connected(call=call.id, request=ack))
    elif call.phase is Phase.LEAVING and call.dialog is not None and not call.repeats:
        station.bye(call.dialog, call, now_s=now_s)  # §15: not before the ACK


def refuse(
    station: Station, call: Call, *, code: int, reason: str, headers: tuple[tuple[str, str], ...], now_s: float
) -> None:
    """Refuse the INVITE; a refused re-INVITE leaves the call as it was."""
    transaction = _open_invite(call)
    if not 300 <= code <= 699:
        raise LocalError(f"{code} is no refusal")
    station.respond(transaction, code, reason=reason, tag=call.tag, headers=headers, now_s=now_s)
    call.got = None
    _stop_ringing(call)
    if call.phase is Phase.OFFERED:
        station.end(call, None)


def cancelled(station: Station, transaction: Transaction, *, now_s: float) -> None:
    """Take a CANCEL (§9.2): its own answer is 200 whatever becomes of the INVITE."""
    invite = station.transactions.invite_of(transaction.request)
    if invite is None:
        station.respond(transaction, 481, now_s=now_s)
        return
    call = invite.user if isinstance(invite.user, Call) else None
    station.respond(transaction, 200, tag=call.tag if call is not None else "", now_s=now_s)
    if call is None or call.got is not invite:
        return
    station.respond(invite, 487, tag=call.tag, now_s=now_s)
    call.got = None
    _stop_ringing(call)
    if call.phase is Phase.OFFERED:
        station.end(call, Why.THEY_CANCELLED)
    else:
        station.events.append(Withdrawn(call=call.id))


def hung_up(station: Station, call: Call, transaction: Transaction, *, now_s: float) -> None:
    """Take a BYE (§15.1.2): what is still open is answered 487."""
    station.respond(transaction, 200, tag=call.tag, now_s=now_s)
    if call.got is not None:
        station.respond(call.got, 487, tag=call.tag, now_s=now_s)
        call.got = None
    station.end(call, Why.WE_HUNG_UP if call.phase is Phase.LEAVING else Why.THEY_HUNG_UP)
