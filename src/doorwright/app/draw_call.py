"""Draw a rehearsed call as a ladder: the building comes up, this call alone is played, and everything sent is shown."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Final

from doorwright.app.put_faults import put_faults
from doorwright.kernel.errors import Refused
from doorwright.kernel.words import slug_of
from doorwright.model.naming import name_of
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.edits.called import called
from doorwright.rehearse.building import Building
from doorwright.rehearse.chosen import NoSuchCallError, chosen, read_wanted, text_of
from doorwright.rehearse.ladder import Happened, Ladder, is_of_a_call, ladder_of
from doorwright.rehearse.observed import told_outcome, told_play
from doorwright.rehearse.planned import planned
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
    book_path: Path,
    calls: Sequence[str],
    folder: Path | None,
    *,
    faults: Sequence[str] = (),
    seed: int = 1,
    delay_ms: float = 1.0,
    loss_ratio: float = 0.0,
    power_cut_min: float | None = None,
) -> tuple[WrittenCall, ...]:
    """Draw calls as ``ladders_of_book`` does, and write them into a folder; None is one beside the book.

    Raises:
        Refused: a file cannot be written, or as ``ladders_of_book`` has it.
    """
    if not calls:
        return ()
    drawn = ladders_of_book(
        book_path, calls, faults=faults, seed=seed, delay_ms=delay_ms, loss_ratio=loss_ratio,
        power_cut_min=power_cut_min,
    )  # fmt: skip
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


def ladders_of_book(
    book_path: Path,
    calls: Sequence[str | Play],
    *,
    faults: Sequence[str] = (),
    seed: int = 1,
    delay_ms: float = 1.0,
    loss_ratio: float = 0.0,
    power_cut_min: float | None = None,
) -> tuple[DrawnCall, ...]:
    """Draw calls in the building of a book's latest revision; see ``ladders_of``.

    Raises:
        Refused: the book cannot be read, or as ``ladders_of`` has it.
    """
    with Book.open(book_path, read_only=True) as book:
        walk = Walk(book.site())
        head = book.head()
    return ladders_of(
        walk, calls, revision=str(head.number), on=f"{head.made_at:%Y-%m-%d}", faults=faults, seed=seed,
        delay_ms=delay_ms, loss_ratio=loss_ratio, power_cut_min=power_cut_min,
    )  # fmt: skip


def ladders_of(
    walk: Walk,
    calls: Sequence[str | Play],
    *,
    revision: str,
    on: str,
    faults: Sequence[str] = (),
    seed: int = 1,
    delay_ms: float = 1.0,
    loss_ratio: float = 0.0,
    power_cut_min: float | None = None,
) -> tuple[DrawnCall, ...]:
    """Play calls one after another in a building that has just come up, and draw each.

    With loss, or where two boxes share an address, a call may go otherwise here than amid all calls of a rehearsal: it
    meets the wire at another moment. The sheet says what happened to the call that it shows.

    Args:
        walk: the site.
        calls: a call of a script each, or a text such as "Gate unit:101, Sat 14:30, no answer" (``read_wanted``).
        revision: of the site, printed as given.
        on: the date of the drawing, printed as given.
        faults: faults to put in: a name, or a name, a colon and the name of a unit.
        seed: where all chance starts.
        delay_ms: of the wire.
        loss_ratio: of packets lost on it.
        power_cut_min: for how long the mains fail before the first call; None for not at all.

    Raises:
        Refused: nothing can be rehearsed, or a call, fault or unit is not known.
    """
    plan = planned(walk, seed=seed)
    if not plan.boxes:
        raise Refused("no unit of this site has an address and a number yet", remedy="First: doorwright plan BOOK")
    proof = prove(walk)
    plays = []
    for call in calls:
        if isinstance(call, Play):
            plays.append(call)
            continue
        try:
            wanted = read_wanted(call)
            unit: Unit = called(walk, wanted.unit, Unit)
            plays.append(chosen(walk, proof, plan.boxes, unit, wanted))
        except NoSuchCallError as why:
            remedy = 'Name it as UNIT:KEY or UNIT:NUMBER, then perhaps ", DAY HH:MM" and ", no answer" or ", busy".'
            raise Refused(str(why), remedy=remedy) from None
    faulty, put_in = put_faults(walk, plan, faults, seed=seed, power_cut_min=power_cut_min)
    boxes = faulty.boxes
    building = Building(
        boxes.values(), faulty.nets, plant=faulty.plant, power_cut_min=faulty.power_cut_min, seed=seed,
        delay_s=delay_ms / 1000, loss_ratio=loss_ratio,
    )  # fmt: skip
    building.come_up()
    lost = f"{loss_ratio * 100:g} % of packets lost" if loss_ratio else "no packets lost"
    conditions = [f"seed {seed}", f"delay {delay_ms:g} ms", lost]
    if faulty.power_cut_min is not None:
        conditions.append(f"power cut {faulty.power_cut_min:.0f} min")
    conditions += [f"{fault.cause} at {_name(walk, ident)}" for fault, ident in put_in]
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
        caption = Caption(told, proved, rehearsed, played.as_proved, ", ".join(conditions))
        drawn.append(
            DrawnCall(
                text=text_of(walk, play), told=told, played=played, proved=proved, rehearsed=rehearsed, ladder=ladder,
                drawings=ladder_sheets(ladder, walk, caption, revision=revision, on=on),
                packets=tuple(one for one in happened if isinstance(one, Carried) and is_of_a_call(one)),
            )
        )  # fmt: skip
    return tuple(drawn)


def _name(walk: Walk, ident: str) -> str:
    part = walk.part(ident)
    return name_of(walk, part) if part is not None else ident
