"""The ladder of one rehearsed call: who sends what to whom, as a drawing, as a table, and as captured packets."""

from collections.abc import Iterator
from dataclasses import dataclass, replace
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.draw_call import DrawnCall, ladders_of
from doorwright.app.tell_rehearsal import CallLine
from doorwright.rehearse.ladder import Ladder, Noted
from doorwright.web.answers import Answer, Download, Page
from doorwright.web.asking import Ask, get
from doorwright.web.making import WAIT_S, BeingMade, Tell
from doorwright.web.rehearsals import KeptRehearsal
from doorwright.web.showing import book_url
from doorwright.web.views.drawings import inline
from doorwright.web.views.rehearsal import kept_of

_SVG: Final = "image/svg+xml"
_PCAP: Final = "application/octet-stream"
_FILE_WAIT_S: Final = 600.0
"""A file that is fetched is waited for."""


@dataclass(frozen=True, slots=True)
class StepLine:
    """One step: seconds since the call began, who, to whom (empty where something happens at one alone), and what."""

    at_s: float
    who: str
    to: str
    what: str


@dataclass(frozen=True, slots=True, kw_only=True)
class LadderView:
    """A call of a rehearsal and its ladder; while that is still being drawn, ``step`` says how far it is.

    ``goes_otherwise`` where the call, played alone, went otherwise than amid all others. Sheets count from 1.
    """

    revision: int
    is_stale: bool
    call: CallLine
    calls_count: int
    faults: tuple[str, ...]
    rehearsal: str
    step: str
    sheet: int = 1
    sheets_count: int = 0
    width_mm: float = 0.0
    height_mm: float = 0.0
    steps: tuple[StepLine, ...] = ()
    goes_otherwise: bool = False
    rehearsed_alone: str = ""


def page(ask: Ask) -> Answer:
    """Show the ladder of a call."""
    kept, number = _call(ask)
    line = kept.calls[number - 1]
    made = _drawn(ask, kept, number, wait_s=WAIT_S)
    view = LadderView(
        revision=kept.made.revision,
        is_stale=kept.made.revision != ask.book.now()[0].number,
        call=line,
        calls_count=len(kept.calls),
        faults=kept.conditions.faults,
        rehearsal=book_url(ask.book.name, "rehearsal", ask.path["result"]),
        step=made.step if isinstance(made, BeingMade) else "",
    )
    title = f"Ladder of call {number}"
    if isinstance(made, BeingMade):
        return Page(template="rehearsal/ladder.html", title=title, view=view, facts={"svg": ""})
    sheet = min(max(ask.whole("sheet", 1) or 1, 1), len(made.drawings))
    drawing = made.drawings[sheet - 1]
    view = replace(
        view,
        sheet=sheet,
        sheets_count=len(made.drawings),
        width_mm=drawing.width_mm,
        height_mm=drawing.height_mm,
        steps=tuple(_steps(made.ladder)),
        goes_otherwise=made.rehearsed != line.rehearsed,
        rehearsed_alone=made.rehearsed,
    )
    return Page(template="rehearsal/ladder.html", title=title, view=view, facts={"svg": inline(drawing.svg)})


def _steps(ladder: Ladder) -> Iterator[StepLine]:
    names = [one.name for one in ladder.participants]
    for step in ladder.steps:
        if isinstance(step, Noted):
            yield StepLine(round(step.at_s, 6), names[step.at], "", step.words)
            continue
        lost = " (lost)" if step.lost else f" ({step.lost_count} lost)" if step.lost_count else ""
        again = ", again" if step.again else ""
        yield StepLine(round(step.at_s, 6), names[step.sender], names[step.taker], f"{step.words}{again}{lost}")


def file(ask: Ask) -> Answer:
    """Give one sheet of the ladder out as a file."""
    kept, number = _call(ask)
    made = _waited(ask, kept, number)
    sheet = ask.whole("sheet", 1) or 1
    if not 1 <= sheet <= len(made.drawings):
        raise HTTPException(404, f"the ladder has {len(made.drawings)} sheets")
    name = f"{ask.book.name}-call-{number}-{sheet}.svg"
    return Download(name=name, media_type=_SVG, content=made.drawings[sheet - 1].svg.encode())


def capture(ask: Ask) -> Answer:
    """Give the packets of the call out, for programs that show what is on a network."""
    kept, number = _call(ask)
    made = _waited(ask, kept, number)
    return Download(name=f"{ask.book.name}-call-{number}.pcapng", media_type=_PCAP, content=made.capture)


def _call(ask: Ask) -> tuple[KeptRehearsal, int]:
    kept = kept_of(ask, ask.path["result"])
    text = ask.path["number"]
    if not text.isascii() or not text.isdecimal() or not 1 <= int(text) <= len(kept.calls):
        raise HTTPException(404, f"this rehearsal has no call {text!r}; it has 1 to {len(kept.calls)}")
    return kept, int(text)


def _waited(ask: Ask, kept: KeptRehearsal, number: int) -> DrawnCall:
    made = _drawn(ask, kept, number, wait_s=_FILE_WAIT_S)
    if isinstance(made, BeingMade):
        raise HTTPException(404, "the ladder took too long to draw; try again")
    return made


def _drawn(ask: Ask, kept: KeptRehearsal, number: int, *, wait_s: float) -> DrawnCall | BeingMade:
    """Return the ladder, or how far it is. The call is played alone in the building as it was rehearsed."""

    def draw(tell: Tell) -> DrawnCall:
        tell("playing the call again, alone")
        (drawn,) = ladders_of(
            kept.made.walk,
            [kept.made.rehearsal.played[number - 1].play],
            kept.conditions,
            revision=str(kept.made.revision),
            on=f"{kept.at:%Y-%m-%d}",
        )
        return drawn

    return ask.book.makings.of(f"ladder {ask.path['result']} {number}", kept.made.revision, draw, wait_s=wait_s)


ROUTES: Final = (
    *get("/books/{book}/rehearsal/{result}/calls/{number}.svg", file, twin=False),
    *get("/books/{book}/rehearsal/{result}/calls/{number}.pcapng", capture, twin=False),
    *get("/books/{book}/rehearsal/{result}/calls/{number}", page),
)
