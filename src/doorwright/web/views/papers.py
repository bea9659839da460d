"""Papers: the pack, each paper alone, what brings cleared units back, the site as workbook or document."""

import io
import zipfile
from dataclasses import dataclass
from datetime import datetime
from pathlib import PurePosixPath
from typing import Final

from starlette.exceptions import HTTPException

from doorwright.app.draw import TECHNICIANS_MOST
from doorwright.app.export import Form, export
from doorwright.app.make_pack import make_pack, make_paper
from doorwright.app.make_rebuild_pack import make_rebuild_pack
from doorwright.app.means import Means
from doorwright.app.paper import MEDIA_TYPES
from doorwright.app.way_on import PACK
from doorwright.app.write_template import template
from doorwright.kernel.errors import Refused
from doorwright.kernel.person import Role
from doorwright.render.pdf import PAPERS
from doorwright.web.answers import Answer, Begun, Download, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.filled import Filled
from doorwright.web.scratch import Made
from doorwright.web.showing import book_url
from doorwright.web.views.onward import OnwardView, onward_of

_RECORDED_MOST: Final = 100
_TITLES: Final = {
    PACK: "The site pack: every paper in one file",
    "schedules.xlsx": "The schedules as a workbook that can be taken in again",
    "bill.xlsx": "The bill of materials",
    "document.json": "The whole site as a document",
    "document.schema.json": "What the document may hold (JSON Schema)",
    "rebuild-cards.pdf": "Cards in order of work",
    "rebuild-entries.xlsx": "The same entries as a table",
}


@dataclass(frozen=True, slots=True, kw_only=True)
class FileView:
    """A file to take away."""

    name: str
    title: str
    bytes_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class MadeView:
    """Files made together from one revision."""

    key: str
    revision: int
    what: str
    files: tuple[FileView, ...]
    drawings: tuple[FileView, ...]


@dataclass(frozen=True, slots=True, kw_only=True)
class RecordedView:
    """A file that was made before, as the book remembers it: its fingerprint, not its content."""

    name: str
    revision: int
    made_at: datetime
    bytes_count: int
    sha256: str


@dataclass(frozen=True, slots=True, kw_only=True)
class PapersView:
    """What can be made of the newest revision, what was made since the server started, and what the book remembers."""

    revision: int
    alone: tuple[tuple[str, str], ...]
    has_vault: bool
    made: tuple[MadeView, ...]
    recorded: tuple[RecordedView, ...]
    onward: OnwardView


def page(ask: Ask) -> Answer:
    """Show what can be made, and what was."""
    head, _ = ask.book.now()
    recorded = ask.book.book.artefacts()
    view = PapersView(
        revision=head.number,
        alone=tuple(PAPERS.items()),
        has_vault=ask.book.book.vault() is not None,
        made=tuple(map(_made, ask.scratch.of(ask.book.name))),
        recorded=tuple(
            RecordedView(
                name=one.name,
                revision=one.revision,
                made_at=one.made_at,
                bytes_count=one.bytes_count,
                sha256=one.sha256,
            )
            for one in reversed(recorded[-_RECORDED_MOST:])
        ),
        onward=onward_of(ask.book),
    )
    return Page(template="papers/papers.html", title="Papers", view=view)


def _made(made: Made) -> MadeView:
    files = [FileView(name=name, title=_TITLES.get(name, name), bytes_count=size) for name, size in made.files()]
    files.sort(key=lambda file: file.name != PACK)
    return MadeView(
        key=made.key,
        revision=made.revision,
        what=made.what,
        files=tuple(file for file in files if not file.name.startswith("drawings/")),
        drawings=tuple(file for file in files if file.name.startswith("drawings/")),
    )


def pack(ask: Ask) -> Answer:
    """Begin to make the pack."""
    filled = Filled(ask, {"technicians": "Technicians who share the work"})
    technicians = filled.whole("technicians", default=2, least=1, most=TECHNICIANS_MOST)
    filled.see("the pack was not begun")
    given = ask.fields.get("passphrase")
    passphrase = given if isinstance(given, str) and given else None
    book, scratch = ask.book, ask.scratch

    def work(means: Means) -> Answer:
        made = scratch.new(book.name, book.now()[0].number, "Site pack")
        make_pack(book.path, made.folder, means, passphrase, technicians=technicians)
        return Go(f"{book_url(book.name, 'papers')}#{made.key}", "The pack is made.")

    return Begun(ask.jobs.start("Making the pack", book.name, work, ask.means))


def alone(ask: Ask) -> Answer:
    """Begin to make one paper."""
    kind, book, scratch = ask.text("paper"), ask.book, ask.scratch
    if kind not in PAPERS:
        raise Refused(f"there is no paper {kind!r}", remedy=f"Papers: {', '.join(PAPERS)}.")

    def work(means: Means) -> Answer:
        made = scratch.new(book.name, book.now()[0].number, PAPERS[kind])
        make_paper(book.path, kind, made.folder / f"{kind}.pdf", means)
        return Go(f"{book_url(book.name, 'papers')}#{made.key}", f"{PAPERS[kind]}: made.")

    return Begun(ask.jobs.start(f"Making the paper: {PAPERS[kind]}", book.name, work, ask.means))


def rebuild(ask: Ask) -> Answer:
    """Begin to make what brings cleared units back."""
    book, scratch = ask.book, ask.scratch
    firmware = tuple(text.strip() for text in ask.text("firmware").split(",") if text.strip())
    units = tuple(text.strip() for text in ask.text("units").splitlines() if text.strip())
    if firmware and units:
        raise Refused("either a firmware step or names of units", remedy="Leave one of them blank.")

    def work(means: Means) -> Answer:
        made = scratch.new(book.name, book.now()[0].number, "Rebuild pack")
        rebuilt = make_rebuild_pack(book.path, made.folder, means, firmware=firmware, units=units)
        gaps = f" {len(rebuilt.gaps)} facts are missing from the record." if rebuilt.gaps else ""
        said = f"{len(rebuilt.units)} units to set up again, {rebuilt.entries_count} entries.{gaps}"
        return Go(f"{book_url(book.name, 'papers')}#{made.key}", said)

    return Begun(ask.jobs.start("Making the rebuild pack", book.name, work, ask.means))


def site_file(ask: Ask) -> Answer:
    """Begin to write the site as a workbook or a document."""
    form_text, book, scratch = ask.text("form"), ask.book, ask.scratch
    if form_text not in set(Form):
        raise Refused(f"the site cannot be written as {form_text!r}", remedy=f"Give one of: {', '.join(Form)}.")
    form = Form(form_text)
    revision = ask.whole("revision")

    def work(means: Means) -> Answer:
        number = revision if revision is not None else book.now()[0].number
        made = scratch.new(book.name, number, "The site as a file")
        export(book.path, form, made.folder / f"{book.name}.{form}", means, revision=number)
        return Go(f"{book_url(book.name, 'papers')}#{made.key}", "The file is written.")

    return Begun(ask.jobs.start("Writing the site", book.name, work, ask.means))


def download(ask: Ask) -> Answer:
    """Give a file out, or all of them in one."""
    made = ask.scratch.find(ask.book.name, ask.path["key"])
    name = ask.path["name"]
    if made is None:
        raise HTTPException(404, "this file is no longer kept here; make it again")
    if name == "all.zip":
        title = f"{ask.book.name}-revision-{made.revision}.zip"
        return Download(name=title, media_type="application/zip", content=_zipped(made))
    file = made.file(name)
    if file is None:
        raise HTTPException(404, f"there is no file {name!r}")
    suffix = PurePosixPath(name).suffix
    return Download(
        name=f"{ask.book.name}-revision-{made.revision}-{PurePosixPath(name).name}",
        media_type=MEDIA_TYPES.get(suffix, "application/octet-stream"),
        content=file,
        inline=suffix in {".pdf", ".svg"},
    )


def _zipped(made: Made) -> bytes:
    packed = io.BytesIO()
    with zipfile.ZipFile(packed, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, _ in made.files():
            archive.write(made.folder / name, name)
    return packed.getvalue()


def empty_workbook(ask: Ask) -> Answer:
    """Give the empty workbook out that a survey fills in."""
    return Download(name="survey.xlsx", media_type=MEDIA_TYPES[".xlsx"], content=template(ask.means))


ROUTES: Final = (
    *get("/template.xlsx", empty_workbook, twin=False),
    *get("/books/{book}/papers", page),
    *post("/books/{book}/papers/pack", pack, needs=Role.WORK),
    *post("/books/{book}/papers/alone", alone, needs=Role.WORK),
    *post("/books/{book}/papers/rebuild", rebuild, needs=Role.WORK),
    *post("/books/{book}/papers/site", site_file, needs=Role.WORK),
    *get("/books/{book}/papers/{key}/{name:path}", download, twin=False),
)
