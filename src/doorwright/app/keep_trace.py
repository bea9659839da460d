"""Keep traces of a rehearsal while it goes on: lines of JSON, and a capture of its packets."""

import json
from collections.abc import Callable, Iterator, Mapping
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass
from pathlib import Path

from doorwright.rehearse.journal import Entry, Told
from doorwright.rehearse.trace import Line, entry_line, packet_line
from doorwright.rehearse.wire import Carried, Heard
from doorwright.render.capture import capture_head, captured
from doorwright.store.files import writing_whole


@dataclass(frozen=True, slots=True)
class Traced:
    """Who is to be told of happenings and packets; None where nobody keeps them."""

    told: Told | None
    heard: Heard | None


@contextmanager
def keeping_traces(trace: Path | None, capture: Path | None, names: Mapping[str, str]) -> Iterator[Traced]:
    """Write traces as things happen; the files appear when all is over, whole.

    Args:
        trace: where to write each packet and each happening, a line of JSON each.
        capture: where to write the packets themselves.
        names: of the boxes, by their identifiers.

    Raises:
        Refused: a file cannot be written.
    """
    with ExitStack() as files:
        takers: list[Heard] = []
        told: Told | None = None
        if trace is not None:
            write_line = _lines_into(files.enter_context(writing_whole(trace)).write)
            takers.append(lambda carried: write_line(packet_line(carried)))

            def told(entry: Entry) -> None:
                write_line(entry_line(entry, names))

        if capture is not None:
            write = files.enter_context(writing_whole(capture)).write
            write(capture_head())
            takers.append(lambda carried: _write_packet(write, carried))

        def heard(carried: Carried) -> None:
            for take in takers:
                take(carried)

        yield Traced(told, heard if takers else None)


def _lines_into(write: Callable[[bytes], object]) -> Callable[[Line], None]:
    def write_line(line: Line) -> None:
        write((json.dumps(line, ensure_ascii=False) + "\n").encode("utf-8", "surrogateescape"))

    return write_line


def _write_packet(write: Callable[[bytes], object], carried: Carried) -> None:
    write(captured(carried))
