"""Who of the plan was asked over the network, and what was heard: as people read it and as JSON."""

from typing import Any, Final

from doorwright.app.verify_book import Verified
from doorwright.cli.beside import compared_as_json
from doorwright.cli.printer import Printer
from doorwright.kernel.words import counted

_NAMES_MOST: Final = 12


def asked_as_json(verified: Verified) -> dict[str, Any]:
    """Return what was heard of everybody, as the values that ``--json`` prints."""
    return {
        "asked": [
            {
                "part": {"kind": heard.target.subject.kind, "id": heard.target.subject.id, "label": heard.target.name},
                "address": heard.target.address,
                "at": heard.at,
                "answers": heard.is_there,
                "ping": heard.pinged,
                "sip": heard.sip.text if heard.sip else None,
                "web": heard.web.text if heard.web else None,
                "rtsp": heard.rtsp.text if heard.rtsp else None,
                "clock_ahead_s": heard.ahead_s,
                "certificate": [day.isoformat() for day in heard.valid] if heard.valid else None,
                "macs": heard.macs,
            }
            for heard in verified.heard
        ],
        "kept": verified.kept,
        "left_out": [{"label": one.name, "reason": one.reason} for one in verified.left_out],
        "no_way": verified.no_way,
        "tells_macs": verified.tells_macs,
        "new": verified.new_count,
        "found": compared_as_json(verified.compared),
    }


def print_asked(printer: Printer, verified: Verified) -> None:
    """Print how many answered, and who did not, or was not asked."""
    answered_count = sum(heard.is_there is True for heard in verified.heard)
    printer.line()
    printer.line(f"Asked {len(verified.heard)}: {answered_count} answered, {len(verified.silent)} silent.")
    if verified.silent:
        printer.line(f"Silent: {_some(verified.silent)}.")
    if verified.no_way:
        printer.line(
            f"Not checked, because this machine has no way there or nothing to ask with: {_some(verified.no_way)}. Join"
            " the network of the units, leave them a port to be asked at, and give the command again."
        )
    if verified.kept:
        printer.line(
            f"Left in peace, asked a short while ago: {counted(len(verified.kept), 'part')} (--again asks all)."
        )
    if verified.left_out:
        printer.line(f"Not checked: {counted(len(verified.left_out), 'part')}.")
        printer.table(("part", "why it cannot be asked"), [(one.name, one.reason) for one in verified.left_out])
    if verified.heard and not verified.tells_macs:
        printer.line("MAC addresses were not checked: this system does not tell them.")


def _some(names: tuple[str, ...]) -> str:
    more = len(names) - _NAMES_MOST
    return ", ".join(names[:_NAMES_MOST]) + (f" and {more} more" if more > 0 else "")
