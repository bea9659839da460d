"""Make the rebuild pack: what brings cleared units back, as cards in order of work and as a table of entries."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from doorwright.app.means import Means
from doorwright.app.paper import edition_of, write_pack
from doorwright.app.plan_firmware import named_units, targets_of
from doorwright.kernel.errors import Refused
from doorwright.kernel.observation import Stage, what_counts
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.rebuild import in_order_of_work, rebuild_lines
from doorwright.plan.firmware.record import Gap, gaps
from doorwright.plan.firmware.steps import steps_to
from doorwright.render.pdf.rebuild import rebuild_pdf
from doorwright.render.xlsx import rebuild_xlsx
from doorwright.store.book import Book


@dataclass(frozen=True, slots=True, kw_only=True)
class Rebuilt:
    """The files of a rebuild pack; the units in it, in order of work; how many entries; what the book does not hold."""

    revision: int
    files: tuple[Path, ...]
    units: tuple[str, ...]
    entries_count: int
    gaps: tuple[Gap, ...]


def make_rebuild_pack(
    book_path: Path, out: Path, means: Means, *, firmware: Sequence[str] = (), units: Sequence[str] = ()
) -> Rebuilt:
    """Write the rebuild pack into a folder and note its files in the book. No file holds a secret.

    Args:
        book_path: the book.
        out: the folder.
        means: the world.
        firmware: a step, as for ``plan_firmware``: the units that it clears are taken.
        units: names of units. Without either, every unit of the site is taken.

    Raises:
        Refused: the step or a name is not clear, nothing is cleared, or the folder cannot be written.
    """
    with Book.open(book_path) as book:
        revision = book.head()
        walk = Walk(book.site(revision.number))
        cleared, versions = _cleared(walk, firmware, units)
        ordered = in_order_of_work(walk, cleared)
        lines = tuple(line for unit in ordered for line in rebuild_lines(walk, unit))
        missing = gaps(
            walk, ordered, sealed=frozenset(book.sealed()), seen=what_counts(book.observations(), Stage.FOUND)
        )
        means.progress("setting the papers")
        pdf = rebuild_pdf(
            walk=walk, units=ordered, lines=lines, gaps=missing, firmware=versions, edition=edition_of(revision)
        )
        table = rebuild_xlsx(
            lines, title=f"{walk.site.name}, revision {revision.number}: entries", made_at=revision.made_at
        )
        papers = {"rebuild-cards.pdf": pdf, "rebuild-entries.xlsx": table}
        means.progress("writing the files")
        files = write_pack(book, out, papers, revision=revision.number, now=means.now)
    return Rebuilt(
        revision=revision.number,
        files=files,
        units=tuple(unit.name for unit in ordered),
        entries_count=len(lines),
        gaps=missing,
    )


def _cleared(walk: Walk, firmware: Sequence[str], units: Sequence[str]) -> tuple[tuple[Unit, ...], dict[str, str]]:
    """Return the units to bring back, and the version each is to have where a step is meant."""
    if firmware:
        steps = steps_to(walk, targets_of(walk, firmware)).cleared
        if not steps:
            raise Refused(
                "this step clears no unit", remedy="What it does: doorwright firmware BOOK --to PROFILE=VERSION"
            )
        return tuple(step.unit for step in steps), {step.unit.id: step.version_to for step in steps}
    if units:
        return named_units(walk, units), {}
    return walk.all(Unit), {}
