"""The side that sends an INVITE, first or again: responses, forks, CANCEL, ACK (RFC 3261 §9.1, §13.2, §14.1)."""

from collections.abc import Iterable

from doorwright.sip.dialog import Dialog
from doorwright.sip.errors import LocalError, PeerError
from doorwright.sip.events import Answered, Faulty, Progress, Refused, Why
from doorwright.sip.message import Request, Response
from doorwright.sip.return_path import Address
from doorwright.sip.station import MOST_TRIES, Call, Errand, Phase, Series, Station
from doorwright.sip.transaction import Transaction, cancel_of

_PROVING = ("Authorization", "Proxy-Authorization")


def _own_headers(station: Station, content_type: str) -> list[tuple[str, str]]:
    return [
        ("Contact", station.identity.contact),
        *station.abilities_told(),
        *([("Content-Type", content_type)] if content_type else []),
    ]


def invite(
    station: Station,
    target: str,
    *,
    peer: Address,
    body: bytes,
    content_type: str,
    headers: Iterable[tuple[str, str]],
    now_s: float,
) -> Call:
    """Call somebody (§13.2.1)."""
    series = Series(station.new_call_id(), station.new_tag())
    request = station.outside(
        "INVITE",
        target,
        to=f"<{target}>",
        series=series,
        headers=[*_own_headers(station, content_type if body else ""), *headers],
        body=body,
    )
    call = Call(id=station.next_id(), call_id=series.call_id, tag=series.tag)
    call.sent = station.transactions.request(request, peer=peer, now_s=now_s, user=call)
    station.calls[call.id] = call
    return call


def reinvite(station: Station, call: Call, *, body: bytes, content_type: str, now_s: float) -> None:
    """Change the call (§14.1)."""
    dialog = call.dialog
    if call.phase is not Phase.LIVE or dialog is None:
        raise LocalError("a call can be changed while it is connected only")
    # An answer of ours without its ACK counts too: who called may not know of the dialog yet.
    if (
        call.got is not None
        or (call.sent is not None and call.sent.is_open)
        or call.offered is not None
        or call.repeats
    ):
        raise LocalError("an INVITE is still open in this call")
    headers = _own_headers(station, content_type if body else "")
    request = station.within(dialog, "INVITE", headers=headers, body=body)
    call.tries = 0
    call.cancelling = call.cancel_sent = False
    call.sent = station.transactions.request(request, peer=dialog.next_hop, now_s=now_s, user=call)


def cancel(station: Station, call: Call, *, now_s: float) -> None:
    """Take the INVITE back; the CANCEL goes out once a provisional response has come (§9.1)."""
    if call.sent is None or not call.sent.is_open or call.cancelling:
        raise LocalError("there is no open INVITE of ours to cancel")
    call.cancelling = True
    _cancel_if_heard(station, call, now_s)


def _cancel_if_heard(station: Station, call: Call, now_s: float) -> None:
    sent = call.sent
    if not call.cancelling or call.cancel_sent or sent is None or not sent.is_open or sent.response is None:
        return
    call.cancel_sent = True
    errand = Errand(id=station.next_id(), method="CANCEL", call=call)
    station.errand(errand, cancel_of(sent.request), peer=sent.peer, now_s=now_s)
    station.wake_at(now_s + station.times.patience_s, lambda _: _give_up(station, call, sent))


def _give_up(station: Station, call: Call, sent: Transaction) -> None:
    """§9.1: an INVITE that is not answered 64 times T1 after its CANCEL never will be."""
    if call.sent is not sent or not sent.is_open:
        return
    station.transactions.forget(sent)
    if call.phase is Phase.OFFERED:
        station.end(call, Why.NO_ANSWER_TO_CANCEL)
    elif call.phase is Phase.LIVE:
        refusal = Refused(call=call.id, code=408, reason="Request Timeout", response=None, over=False)
        station.events.append(refusal)


def responded(station: Station, call: Call, transaction: Transaction, response: Response, *, now_s: float) -> None:
    """Take a response to an INVITE of ours."""
    if response.is_success:
        _accepted(station, call, transaction, response, now_s)
    elif response.is_final:
        _refused(station, call, transaction, response, now_s)
    else:
        if response.code > 100 and not call.cancelling and call.phase is not Phase.OVER:
            _early(station, call, transaction, response)
            station.events.append(Progress(call=call.id, response=response))
        _cancel_if_heard(station, call, now_s)


def _early(station: Station, call: Call, transaction: Transaction, response: Response) -> None:
    tag = response.headers.to.tag
    if tag is None or call.dialog is not None:
        return
    if tag in call.early:
        call.early[tag].learn(response)
        return
    dialog = Dialog.of_caller(transaction.request, response, peer=transaction.peer)
    call.early[tag] = dialog
    station.keep(call, dialog)


def _accepted(station: Station, call: Call, transaction: Transaction, response: Response, now_s: float) -> None:
    tag, number = response.headers.to.tag or "", transaction.request.headers.cseq.number
    known = call.acks.get((tag, number))
    if known is not None:  # §13.2.2.4: each copy of the 2xx means that the ACK was lost
        station.transactions.send(known[0], peer=known[1])
        return
    if call.offered is not None and call.offered[1] is transaction and call.offered[0].remote.tag == (tag or None):
        return  # a copy, while the answer is still to be given
    again = transaction.request.headers.to.tag is not None
    dialog = call.dialog
    if again and dialog is not None and (dialog.remote.tag or "") == tag:
        dialog.refresh(response)
    elif again:
        fault = PeerError("a 2xx from another end than the one that was asked", clause="RFC 3261 §12.2.1.2")
        station.events.append(Faulty(source=transaction.peer, fault=fault))
        return
    else:
        dialog = call.early.get(tag) or Dialog.of_caller(transaction.request, response, peer=transaction.peer)
        dialog.learn(response)
        if call.dialog is not None or call.cancelling or call.phase is Phase.OVER:
            _not_wanted(station, call, transaction, dialog, now_s)
            return
        call.dialog, call.phase = dialog, Phase.LIVE
        station.keep(call, dialog)
        for other in call.early.values():
            if other is not dialog:  # §13.2.2.4: early dialogs of a fork that did not answer end here
                station.dialogs.pop(other.id, None)
        call.early.clear()
    waits = bool(not transaction.request.body and response.body) and call.phase is Phase.LIVE
    if waits:
        call.offered = dialog, transaction
    else:
        send_ack(station, call, dialog, transaction)
    if call.phase is Phase.LIVE:
        station.events.append(Answered(call=call.id, response=response, again=again, acknowledged=not waits))


def _not_wanted(station: Station, call: Call, transaction: Transaction, dialog: Dialog, now_s: float) -> None:
    """A 2xx of a second branch, or one that crossed our CANCEL: acknowledge, and hang up (§13.2.2.4)."""
    send_ack(station, call, dialog, transaction)
    if call.dialog is None and call.phase is Phase.OFFERED:
        call.dialog, call.phase = dialog, Phase.LEAVING
        station.keep(call, dialog)
    station.bye(dialog, call, now_s=now_s)


def send_ack(
    station: Station,
    call: Call,
    dialog: Dialog,
    transaction: Transaction,
    *,
    body: bytes = b"",
    content_type: str = "",
) -> None:
    """Acknowledge a 2xx (§13.2.2.4): with the number and the credentials of its INVITE (§22.1)."""
    number = transaction.request.headers.cseq.number
    told = [(name, value) for name, value in transaction.request.headers if name in _PROVING]
    if body:
        told.append(("Content-Type", content_type))
    ack: Request = dialog.request("ACK", number=number, via=station.new_via(), headers=told, body=body)
    call.acks[dialog.remote.tag or "", number] = ack, dialog.next_hop
    station.transactions.send(ack, peer=dialog.next_hop)


def acknowledge(station: Station, call: Call, *, body: bytes, content_type: str) -> None:
    """Answer the offer that came in a 2xx."""
    if call.offered is None:
        raise LocalError("no 2xx of this call waits for an answer to its offer")
    dialog, transaction = call.offered
    call.offered = None
    send_ack(station, call, dialog, transaction, body=body, content_type=content_type)


def _refused(station: Station, call: Call, transaction: Transaction, response: Response, now_s: float) -> None:
    if not call.cancelling and call.phase in (Phase.OFFERED, Phase.LIVE) and call.tries < MOST_TRIES:
        dialog = call.dialog
        number = transaction.request.headers.cseq.number
        proved = station.proved(
            transaction.request, response, number=dialog.next_number if dialog is not None else lambda: number + 1
        )
        if proved is not None:
            call.tries += 1
            call.sent = station.transactions.request(proved, peer=transaction.peer, now_s=now_s, user=call)
            return
    failed(station, call, response.code, response.reason, response=response, now_s=now_s)


def failed(station: Station, call: Call, code: int, reason: str, *, response: Response | None, now_s: float) -> None:
    """An INVITE of ours came to nothing: refused, unanswered (408) or not sent (503)."""
    if call.phase is Phase.OVER:
        return
    over = call.phase is Phase.OFFERED
    if call.phase is not Phase.LEAVING:
        station.events.append(Refused(call=call.id, code=code, reason=reason, response=response, over=over))
    if over:
        station.end(call, None)
    elif code in {408, 481} and call.phase is Phase.LIVE and call.dialog is not None:
        # §12.2.1.2: the other end is gone or has forgotten us.
        station.bye(call.dialog, call, now_s=now_s)
        station.end(call, Why.NO_LONGER_KNOWN)
