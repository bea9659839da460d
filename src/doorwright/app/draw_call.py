"""Draw a rehearsed call as a ladder: the building comes up, this call alone is played, and everything sent is shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from doorwright.app.conditions import Conditions, prepared
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import slug_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.edits.called import called
from doorwright.rehearse.chosen import NoSuchCallError, chosen, read_wanted, text_of
from doorwright.rehearse.ladder import Happened, Ladder, is_of_a_call, ladder_of
from doorwright.rehearse.observed import told_outcome, told_play
from doorwright.rehearse.rehearsal import Played, outcome_of, play_call
from doorwright.rehearse.script import Play
from doorwright.rehearse.wire import Carried
from doorwright.render.capture import capture_head, captured
from doorwright.render.svg.ladder import Caption, ladder_sheets
from doorwright.render.svg.sheet import Drawing
from doorwright.store.book import Book
from doorwright.store.files import write_whole

_TAIL_S: Final = 32.0
"""How long after a call packets are still shown: 64 times T1 of RFC 3261, after which nothing is sent again."""


@dataclass(frozen=True, kw_only=True)
class DrawnCall:
    """A call that was played alone, and what it looked like.

    ``text`` means this call, ``told`` says it in words, as do ``proved`` and ``rehearsed`` what ought to become of it
    and what did. ``drawings`` are its sheets. ``packets`` are those of the call, in order.
    """

    text: str
    told: str
    played: Played
    proved: str
    rehearsed: str
    ladder: Ladder
    drawings: tuple[Drawing, ...]
    packets: tuple[Carried, ...]

    @property
    def as_proved(self) -> bool:
        """Whether what happened is what the proof says."""
        return self.played.as_proved

    @cached_property
    def capture(self) -> bytes:
        """The packets of the call as a capture (pcapng), for programs that show what is on a network."""
        return capture_head() + b"".join(map(captured, self.packets))


@dataclass(frozen=True, slots=True)
class WrittenCall:
    """A call that was drawn, and the files that show it: its sheets, and its packets."""

    drawn: DrawnCall
    files: tuple[Path, ...]


def write_ladders(
    book_path: Path, calls: Sequence[str], folder: Path | None, conditions: Conditions
) -> tuple[WrittenCall, ...]:
    """Draw calls in the building of a book's latest revision, and write them into a folder; None is one beside it.

    Raises:
        Refused: the book cannot be read, a file cannot be written, or as ``ladders_of`` has it.
    """
    if not calls:
        return ()
    with Book.open(book_path, read_only=True) as book:
        walk, head = Walk(book.site()), book.head()
    drawn = ladders_of(walk, calls, conditions, revision=str(head.number), on=f"{head.made_at:%Y-%m-%d}")
    folder = folder or book_path.with_name(f"{book_path.stem}-ladders")
    written = []
    for number, one in enumerate(drawn, start=1):
        name = f"{number:02d}-{slug_of(one.text)}"
        files = {f"{name}{f'-{at}' if at > 1 else ''}.svg": sheet.svg for at, sheet in enumerate(one.drawings, 1)}
        for file, svg in files.items():
            write_whole(folder / file, svg.encode())
        write_whole(folder / f"{name}.pcapng", one.capture)
        written.append(WrittenCall(one, tuple(folder / file for file in (*files, f"{name}.pcapng"))))
    return tuple(written)


def ladders_of(
    walk: Walk, calls: Sequence[str | Play], conditions: Conditions, *, revision: str, on: str
) -> tuple[DrawnCall, ...]:
    """Play calls one after another in a building that has just come up, and draw each.

    With loss, or where two boxes share an address, a call may go otherwise here than amid all calls of a rehearsal: it
    meets the wire at another moment. The sheet says what happened to the call that it shows.

    Args:
        walk: the site.
        calls: a call of a script each, or a text such as "Gate unit:101, Sat 14:30, no answer" (``read_wanted``).
        conditions: of the rehearsal.
        revision: of the site, printed as given.
        on: the date of the drawing, printed as given.

    Raises:
        Refused: nothing can be rehearsed, or a call, fault or unit is not known.
    """
    ready = prepared(walk, conditions)
    proof = prove(walk)
    plays = []
    for call in calls:
        if isinstance(call, Play):
            plays.append(call)
            continue
        try:
            wanted = read_wanted(call)
            unit: Unit = called(walk, wanted.unit, Unit)
            plays.append(chosen(walk, proof, ready.planned.boxes, unit, wanted))
        except NoSuchCallError as why:
            remedy = 'Name it as UNIT:KEY or UNIT:NUMBER, then perhaps ", DAY HH:MM" and ", no answer" or ", busy".'
            raise Refused(str(why), remedy=remedy) from None
    building = ready.build()
    building.come_up()
    drawn = []
    for play in plays:
        happened: list[Happened] = []
        building.wire.heard = building.journal.told = happened.append
        played = Played(play, outcome_of(play_call(building, play)))
        building.world.run_until(building.world.now_s + _TAIL_S)
        building.wire.heard = building.journal.told = None
        building.journal.empty()
        ladder = ladder_of(walk, {ident: actor.box for ident, actor in building.actors.items()}, happened)
        told = f"{walk.get(Unit, play.unit).name}: {told_play(walk, play)}"
        proved, rehearsed = told_outcome(walk, play.expected), told_outcome(walk, played.happened)
        caption = Caption(told, proved, rehearsed, played.as_proved, ready.told)
        drawn.append(
            DrawnCall(
                text=text_of(walk, play), told=told, played=played, proved=proved, rehearsed=rehearsed, ladder=ladder,
                drawings=ladder_sheets(ladder, walk, caption, revision=revision, on=on),
                packets=tuple(one for one in happened if isinstance(one, Carried) and is_of_a_call(one)),
            )
        )  # fmt: skip
    return tuple(drawn)
