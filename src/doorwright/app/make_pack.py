"""Make the pack: the papers, the schedules, the drawings and the document of the latest revision."""

import json
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from doorwright.app.check_book import Checked, check_book
from doorwright.app.draw import TECHNICIANS_COUNT, Material, all_drawings
from doorwright.app.means import Means
from doorwright.app.paper import edition_of, write_pack, write_paper
from doorwright.kernel.errors import Refused
from doorwright.kernel.trail import Act
from doorwright.kernel.words import counted
from doorwright.model.naming import site_title
from doorwright.model.walk import Walk
from doorwright.plan.materials import bill_of_materials
from doorwright.render.pdf import PAPERS, pack_pdf
from doorwright.render.xlsx import bill_xlsx
from doorwright.rules.judge import NOTHING_JUDGED
from doorwright.store import codec
from doorwright.store.book import Book
from doorwright.store.record import Revision
from doorwright.store.workbook import workbook_bytes


@dataclass(frozen=True, slots=True, kw_only=True)
class Packed:
    """The files of a pack, and what the rules said of the revision it shows."""

    revision: int
    files: tuple[Path, ...]
    checked: Checked


def make_pack(
    book_path: Path, out: Path, means: Means, passphrase: str | None = None, *, technicians: int = TECHNICIANS_COUNT
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
        book.note_trail(means.trace(Act.PAPERS, f"{counted(len(files), 'file')} of revision {revision.number}"))
    return Packed(revision=revision.number, files=files, checked=checked)


def make_paper(book_path: Path, kind: str, out: Path, means: Means) -> Path:
    """Write one paper of the latest revision alone (a kind of ``PAPERS``), and note it in the book.

    Raises:
        Refused: there is no such paper, the site has nothing for it, or the file cannot be written.
    """
    if kind not in PAPERS:
        raise Refused(f"there is no paper {kind!r}", remedy=f"Papers: {', '.join(PAPERS)}.")
    checked = check_book(book_path, means) if kind in {"findings", "workings"} else None
    with Book.open(book_path) as book:
        revision = book.head()
        made_of = Material(Walk(book.site(revision.number)), revision)
        means.progress("setting the paper")
        try:
            paper = pack_pdf(
                walk=made_of.walk,
                assessment=checked.assessment if checked is not None else NOTHING_JUDGED,
                studies=made_of.studies if kind == "workings" else (),
                drawings=all_drawings(made_of, means.progress) if kind == "drawings" else (),
                edition=edition_of(revision),
                sign_offs=checked.sign_offs if checked is not None else (),
                checked_on=means.today(),
                schedule=made_of.schedule if kind == "workdays" else None,
                only=kind,
            )
        except LookupError as error:
            raise Refused(
                f"there is nothing to print on the paper {PAPERS[kind]!r}",
                remedy="Plan the site first, then try again.",
            ) from error
        write_paper(book, out, paper, revision=revision.number, at=means.now())
        book.note_trail(means.trace(Act.PAPERS, f"{PAPERS[kind]} of revision {revision.number}"))
    return out


def _papers(
    walk: Walk, checked: Checked, revision: Revision, means: Means, technicians: int
) -> Iterator[tuple[str, bytes]]:
    made_of = Material(walk, revision, technicians=technicians)
    means.progress("calculating")
    studies = made_of.studies
    drawings = all_drawings(made_of, means.progress)
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
            schedule=made_of.schedule,
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
