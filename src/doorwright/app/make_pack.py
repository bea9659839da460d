"""Make the pack: the papers, the schedules, the drawings and the document of the latest revision."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Final

from doorwright.app.check_book import Checked, check_book
from doorwright.app.means import Means
from doorwright.app.paper import edition_of, write_pack
from doorwright.day.days import play_days
from doorwright.kernel.errors import Refused
from doorwright.model.naming import site_title
from doorwright.model.walk import Walk
from doorwright.paths.proof import prove
from doorwright.plan.materials import bill_of_materials
from doorwright.plan.schedule import Pace, Times, make_schedule, work_of
from doorwright.render.pdf import pack_pdf
from doorwright.render.svg import elevations, gantt, level_plans, network_tree, power_lines, riser
from doorwright.render.svg.blocking_chart import blocking_chart
from doorwright.render.svg.hours_chart import hours_chart
from doorwright.render.svg.link_bars import link_bars
from doorwright.render.svg.power_charts import power_charts
from doorwright.render.svg.week import week_strips
from doorwright.render.xlsx import bill_xlsx
from doorwright.store import codec
from doorwright.store.book import Book
from doorwright.store.record import Revision
from doorwright.store.workbook import workbook_bytes
from doorwright.studies.annex import all_studies
from doorwright.studies.day_building import day_building

_SCHEDULE_S: Final = 1.0
"""The search for a schedule is kept short here; the command ``schedule`` searches longer."""
_DAYS_COUNT: Final = 100
_DAYS_SEED: Final = 1
"""So few days take a moment; the command ``day`` plays more."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """The files of a pack, and what the rules said of the revision it shows."""

    revision: int
    files: tuple[Path, ...]
    checked: Checked


def make_pack(
    book_path: Path, out: Path, means: Means, passphrase: str | None = None, *, technicians: int = 2
) -> Packed:
    """Write the pack into a folder and note its files in the book.

    Everything is made before the first file is written. With the passphrase, the secrets are judged too; no file
    holds a secret either way. The schedule drawn is for so many technicians.

    Raises:
        Refused: the book cannot be read, or the folder cannot be written.
    """
    checked = check_book(book_path, means, passphrase)
    with Book.open(book_path) as book:
        revision = book.head()
        if revision.number != checked.revision:
            raise Refused(f"revision {revision.number} was saved meanwhile", remedy="Give the command again.")
        papers = dict(_papers(Walk(book.site(revision.number)), checked, revision, means, technicians))
        means.progress("writing the files")
        for name in {made.name for made in book.artefacts()} - set(papers):
            if name.startswith("drawings/"):
                (out / name).unlink(missing_ok=True)  # an earlier pack had more of them
        files = write_pack(book, out, papers, revision=revision.number, now=means.now)
    return Packed(revision=revision.number, files=files, checked=checked)


def _papers(
    walk: Walk, checked: Checked, revision: Revision, means: Means, technicians: int
) -> Iterator[tuple[str, bytes]]:
    means.progress("drawing")
    stamp = {"revision": str(revision.number), "on": f"{revision.made_at:%Y-%m-%d}"}
    work = work_of(walk, times=Times(), pace=Pace())
    schedule = make_schedule(work, technicians=technicians, effort_s=_SCHEDULE_S)
    plan = day_building(walk)
    days = (play_days(plan.building, days_count=_DAYS_COUNT, seed=_DAYS_SEED),) if plan is not None else ()
    means.progress("calculating")
    studies = tuple(all_studies(walk))
    drawings = (
        *riser(walk, **stamp),
        *level_plans(walk, **stamp),
        *network_tree(walk, **stamp),
        *power_lines(walk, **stamp),
        *elevations(walk, **stamp),
        *power_charts(walk, **stamp),
        *gantt(schedule, walk, **stamp),
        *week_strips(walk, prove(walk), **stamp),
        *blocking_chart(studies, walk, **stamp),
        *(hours_chart(played, walk, seed=_DAYS_SEED, **stamp) for played in days),
        *link_bars(studies, walk, **stamp),
    )
    means.progress("setting the papers")
    yield (
        "site-pack.pdf",
        pack_pdf(
            walk=walk,
            assessment=checked.assessment,
            studies=studies,
            drawings=drawings,
            edition=edition_of(revision),
            sign_offs=checked.sign_offs,
            checked_on=checked.checked_on,
            schedule=schedule,
        ),
    )
    means.progress("writing the schedules")
    yield "schedules.xlsx", workbook_bytes(walk.site, title=f"{site_title(walk.site.name)}, revision {revision.number}")
    yield (
        "bill.xlsx",
        bill_xlsx(
            bill_of_materials(walk),
            title=f"{site_title(walk.site.name)}, revision {revision.number}",
            made_at=revision.made_at,
        ),
    )
    for drawing in drawings:
        yield f"drawings/{drawing.name}.svg", drawing.svg.encode()
    yield "document.json", codec.dump(walk.site)
    yield "document.schema.json", json.dumps(codec.document_schema(), indent=1).encode()
