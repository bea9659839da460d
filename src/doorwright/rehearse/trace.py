"""The trace of a rehearsal: a line for each packet and each happening. Headers and secrets stay out of it."""

from collections.abc import Mapping
from typing import TypeAlias

from doorwright.rehearse.journal import Entry
from doorwright.rehearse.speech import MEDIA_PORT
from doorwright.rehearse.wire import Spot

Line: TypeAlias = dict[str, str | float | bool]


def packet_line(at_s: float, source: Spot, to: Spot, data: bytes, arrived: bool) -> Line:
    """Return the line of a packet: its start line alone, which holds no credentials."""
    start_line = data.partition(b"\r\n")[0].decode("utf-8", "replace")
    what = "a key in the speech" if to[1] == MEDIA_PORT else start_line
    line: Line = {"at_s": round(at_s, 6), "from": _spot(source), "to": _spot(to), "packet": what}
    if not arrived:
        line["lost"] = True
    return line


def entry_line(entry: Entry, names: Mapping[str, str]) -> Line:
    """Return the line of what happened."""
    line: Line = {"at_s": round(entry.at_s, 6), "at": names.get(entry.part, entry.part), "happened": entry.deed.value}
    if entry.about:
        line["about"] = entry.about
    return line


def _spot(spot: Spot) -> str:
    return f"{spot[0]}:{spot[1]}"
