"""Share the work on site among technicians, and draw it."""

from dataclasses import dataclass
from datetime import timedelta
from pathlib import Path
from typing import Final

from doorwright.app.means import Means
from doorwright.kernel.errors import Refused
from doorwright.model.walk import Walk
from doorwright.plan.schedule import Pace, Schedule, Times, make_schedule, work_of
from doorwright.render.svg import Drawing, gantt
from doorwright.store.book import Book
from doorwright.store.files import write_whole

_PATIENCE: Final = 2
"""The search counts its own work; a machine so many times slower than usual is stopped by the clock."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Scheduled:
    """A schedule of the work on one revision, its drawings, and the files into which they were written."""

    revision: int
    schedule: Schedule
    drawings: tuple[Drawing, ...]
    files: tuple[Path, ...]


def schedule_work(
    book_path: Path,
    means: Means,
    *,
    technicians: int,
    seconds: float,
    pace: Pace,
    times: Times,
    remote_registrar: bool = False,
    out: Path | None = None,
) -> Scheduled:
    """Share the work of the latest revision among technicians; with ``out``, draw it there.

    Args:
        book_path: the book.
        means: the world.
        technicians: how many share the work, 1 or more.
        seconds: about how long to search for a better schedule.
        pace: how fast people walk.
        times: how long hands are needed.
        remote_registrar: whether units that others register with are reached over their network page.
        out: an SVG file; several sheets are numbered.

    Raises:
        Refused: the book cannot be read, the file cannot be written or is no ``.svg``.
    """
    if out is not None and out.suffix.lower() != ".svg":
        raise Refused(f"{out} is no SVG file", remedy="Give a name that ends with .svg.")
    with Book.open(book_path, read_only=True) as book:
        revision = book.head()
        walk = Walk(book.site(revision.number))
    means.progress("sharing out the work")
    latest = means.now() + timedelta(seconds=_PATIENCE * seconds)
    schedule = make_schedule(
        work_of(walk, times=times, pace=pace, remote_registrar=remote_registrar),
        technicians=technicians,
        effort_s=seconds,
        stop=lambda: means.now() > latest,
    )
    drawings = gantt(schedule, walk, revision=str(revision.number), on=f"{revision.made_at:%Y-%m-%d}")
    files = []
    if out is not None:
        for number, drawing in enumerate(drawings, start=1):
            file = out if len(drawings) == 1 else out.with_stem(f"{out.stem}-{number:02d}")
            write_whole(file, drawing.svg.encode())
            files.append(file)
    return Scheduled(revision=revision.number, schedule=schedule, drawings=drawings, files=tuple(files))
