"""Taking a workbook in: what it would give, its mistakes beside their cells, and only then the saving."""

import re
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final

from starlette.datastructures import UploadFile
from starlette.exceptions import HTTPException
from starlette.routing import Route

from doorwright.app.means import Means
from doorwright.app.take_in import Proposed, counts_of, propose, save_into, save_new
from doorwright.app.telling import told
from doorwright.kernel.errors import Mistake
from doorwright.kernel.person import Role
from doorwright.model.change import diff
from doorwright.model.walk import Walk
from doorwright.store.record import Tally, tally
from doorwright.store.workbook import Remark
from doorwright.web.answers import Answer, Begun, Go, Page
from doorwright.web.asking import Ask, get, post
from doorwright.web.intake import Intake, corrected, sheets_in
from doorwright.web.misread import SheetLines, corrections, mistakes_elsewhere, sheets_with_mistakes
from doorwright.web.showing import book_url, url

STORIES_SHOWN_COUNT: Final = 200


@dataclass(frozen=True, slots=True, kw_only=True)
class IntakeView:
    """A workbook as read. Either it has mistakes, or ``counts`` and the rest say what saving it gives."""

    id: str
    book: str | None
    name: str
    workbook: str
    remove_missing: bool
    corrected_count: int
    mistakes_count: int
    elsewhere: tuple[Mistake, ...]
    sheets: tuple[SheetLines, ...]
    remarks: tuple[Remark, ...]
    site: str
    counts: Mapping[str, int]
    tallies: tuple[Tally, ...]
    stories: tuple[str, ...]
    stories_more_count: int


@dataclass(frozen=True, slots=True, kw_only=True)
class ImportView:
    """The question for a workbook that is to be taken into a book."""

    book: str
    revision: int


def begin(ask: Ask) -> Answer:
    """Take a workbook as the beginning of a new book, or for the book that the address names."""
    workbook, sheets = sheets_in(_files(ask))
    intake = ask.intakes.begin(
        ask.person.name,
        workbook=workbook,
        sheets=sheets,
        book=_book_name(ask),
        name=ask.text("name") or re.sub(r"\.\w{2,4}$", "", workbook),
        remove_missing=ask.chosen("remove_missing"),
    )
    return _read(ask, intake)


def ask_for_workbook(ask: Ask) -> Answer:
    """Ask for a workbook to take into a book."""
    view = ImportView(book=ask.book.name, revision=ask.book.now()[0].number)
    return Page(template="start/import.html", title="Import a workbook", view=view)


def page(ask: Ask) -> Answer:
    """Show what a workbook gives, or its mistakes beside their cells."""
    intake = _proposed(ask, _intake(ask))
    title = f"New book from {intake.workbook}" if intake.book is None else f"Import of {intake.workbook}"
    return Page(template="start/intake.html", title=title, view=_view(intake), facts={"here": _address(intake)})


def correct(ask: Ask) -> Answer:
    """Correct cells and read again."""
    intake = _intake(ask)
    return _read(ask, corrected(intake, corrections(intake, ask.fields.multi_items())))


def again(ask: Ask) -> Answer:
    """Take the corrected workbook in the place of the first."""
    intake = _intake(ask)
    workbook, sheets = sheets_in(_files(ask))
    given = tuple(sheets)
    fresh = replace(intake, workbook=workbook, sheets=given, given=given, corrected_count=0, proposed=None)
    return _read(ask, fresh)


def undo(ask: Ask) -> Answer:
    """Take every correction back: the workbook is as it came."""
    intake = _intake(ask)
    return _read(ask, replace(intake, sheets=intake.given, corrected_count=0, proposed=None))


def save(ask: Ask) -> Answer:
    """Save what a workbook gives: as a new book, or into its book."""
    intake = _proposed(ask, _intake(ask))
    proposed = intake.proposed
    if proposed is None:
        raise LookupError("it was read a line above")
    if intake.book is None:
        path = ask.shelf.new_path(ask.text("name") or intake.name)

        def make(means: Means) -> Answer:
            save_new(proposed, path, means)
            ask.intakes.drop(intake.id)
            shown = ask.shelf.show(path)
            return Go(book_url(shown), f"The book {shown!r} is made of {intake.workbook}.")

        return _done(ask, intake, "Making the book", make)

    if ask.whole("parent") not in {None, proposed.parent}:
        return Go(_address(intake), "Somebody saved the book meanwhile. This is what the workbook changes now.")

    def take(means: Means) -> Answer:
        taken = save_into(proposed, ask.book.book, means)
        ask.intakes.drop(intake.id)
        ask.book.changed()
        if taken.revision == proposed.parent:
            return Go(book_url(ask.book.name), f"{intake.workbook} says what the book says already; nothing was saved.")
        return Go(book_url(ask.book.name), f"Revision {taken.revision}: {', '.join(map(str, taken.tallies))}.")

    return _done(ask, intake, f"Import of {intake.workbook}", take)


def drop(ask: Ask) -> Answer:
    """Throw a workbook away that is not in a book."""
    intake = _intake(ask)
    ask.intakes.drop(intake.id)
    to = "/" if intake.book is None else book_url(intake.book)
    return Go(to, f"{intake.workbook} was put aside; nothing was saved.")


def _done(ask: Ask, intake: Intake, title: str, work: Callable[[Means], Answer]) -> Answer:
    if intake.is_long:
        return Begun(ask.jobs.start(title, intake.book or "", work, ask.means))
    return work(ask.means)


def _files(ask: Ask) -> list[tuple[str, bytes]]:
    given = (file for file in ask.fields.getlist("workbook") if isinstance(file, UploadFile) and file.filename)
    return [(file.filename or "", file.file.read()) for file in given]


def _book_name(ask: Ask) -> str | None:
    return ask.book.name if ask.opened is not None else None


def _intake(ask: Ask) -> Intake:
    intake = ask.intakes.find(ask.path["intake"], ask.person.name)
    if intake is None or intake.book != _book_name(ask):
        raise HTTPException(
            404, "this workbook is no longer kept here: an hour has passed, or it was saved or put aside; give it again"
        )
    return intake


def _address(intake: Intake) -> str:
    return url("intake", intake.id) if intake.book is None else book_url(intake.book, "import", intake.id)


def _read(ask: Ask, intake: Intake) -> Answer:
    """Have an intake read, in a job where that takes long, and go to its page."""
    ask.intakes.keep(intake)
    if not intake.is_long:
        return Go(_address(_proposed(ask, intake)))

    def work(means: Means) -> Answer:
        means.progress(f"reading {intake.workbook}")
        return Go(_address(_proposed(ask, intake)))

    return Begun(ask.jobs.start(f"Reading {intake.workbook}", intake.book or "", work, ask.means))


def _proposed(ask: Ask, intake: Intake) -> Intake:
    """Return an intake that was read, against the newest revision where it goes into a book."""
    book = ask.book.book if intake.book is not None else None
    known = intake.proposed
    if known is not None and (book is None or known.parent == book.head().number):
        return intake
    proposed = propose(
        intake.sheets, ask.means, workbook=intake.workbook, book=book, remove_missing=intake.remove_missing
    )
    return ask.intakes.keep(replace(intake, proposed=proposed))


# what the page shows


def _view(intake: Intake) -> IntakeView:
    proposed = intake.proposed
    if proposed is None:
        raise LookupError("an intake is shown when it was read")
    reading = proposed.reading
    sheets = tuple(sheets_with_mistakes(intake.sheets, reading))
    fits = not reading.mistakes
    stories = tuple(_stories(proposed)) if fits and intake.book is not None else ()
    return IntakeView(
        id=intake.id,
        book=intake.book,
        name=intake.name,
        workbook=intake.workbook,
        remove_missing=intake.remove_missing,
        corrected_count=intake.corrected_count,
        mistakes_count=len(reading.mistakes),
        elsewhere=mistakes_elsewhere(reading),
        sheets=sheets,
        remarks=reading.remarks,
        site=reading.site.name,
        counts=counts_of(reading.site) if fits else {},
        tallies=tally(diff(proposed.before, reading.site)) if fits and intake.book is not None else (),
        stories=stories[:STORIES_SHOWN_COUNT],
        stories_more_count=max(0, len(stories) - STORIES_SHOWN_COUNT),
    )


def _stories(proposed: Proposed) -> Iterator[str]:
    before, after = Walk(proposed.before), Walk(proposed.reading.site)
    for story in told(before, after, diff(before.site, after.site)):
        yield from story.sentences


def _routes(path: str) -> tuple[Route, ...]:
    return (
        *get(path, page, needs=Role.PLAN),
        *post(f"{path}/correct", correct, needs=Role.PLAN),
        *post(f"{path}/again", again, needs=Role.PLAN),
        *post(f"{path}/undo", undo, needs=Role.PLAN),
        *post(f"{path}/save", save, needs=Role.PLAN),
        *post(f"{path}/drop", drop, needs=Role.PLAN),
    )


ROUTES: Final = (
    *post("/intake", begin, needs=Role.PLAN),
    *_routes("/intake/{intake}"),
    *get("/books/{book}/import", ask_for_workbook, needs=Role.PLAN),
    *post("/books/{book}/import", begin, needs=Role.PLAN),
    *_routes("/books/{book}/import/{intake}"),
)
