"""The way through a book: each step is next when those before it are done, and says what keeps it open."""

from datetime import date
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.app.do_work import Tally
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.sign_off import sign_off
from doorwright.app.take_in import new_book
from doorwright.app.vault import set_passphrase
from doorwright.app.way_on import PACK, Step, WayOn, way_on
from doorwright.kernel.signoff import Statement
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.rules.judge import Assessment
from doorwright.store.book import Book

MEANS = Means(who="Ada Planner")
FOUND_NOTHING = Assessment((), (), (), {})
OPEN = Tally(tasks_count=10, done_count=4, left_min=60, spent_s=0)
DONE = Tally(tasks_count=10, done_count=10, left_min=0, spent_s=0)


@pytest.fixture(scope="module")
def file(tmp_path_factory: pytest.TempPathFactory) -> Path:
    book = tmp_path_factory.mktemp("way") / "way.book"
    new_book(book, example_workbook(), MEANS)
    return book


def _next(file: Path, assessment: Assessment | None = FOUND_NOTHING, work: Tally = OPEN) -> WayOn:
    with Book.open(file, read_only=True) as book:
        return way_on(book, Walk(book.site()), book.head().number, assessment, lambda: work)


def _note_pack(file: Path, revision: int) -> None:
    with Book.open(file) as book:
        book.record_artefact(
            revision=revision, name=PACK, media_type="application/pdf", content=b"%d" % revision, at=MEANS.now()
        )


def test_each_step_comes_when_those_before_it_are_done(file: Path) -> None:
    # the example: 78 units with a device and a SIP secret each, 6 switches with a device secret: 2 * 78 + 6 = 162
    way = _next(file)
    assert (way.next, way.why.partition(" of ")[0]) == (Step.VAULT, "162 secrets")
    assert way.is_done(Step.HOMES)
    assert not way.is_done(Step.VAULT)
    set_passphrase(file, PASSPHRASE, MEANS)
    way = _next(file)  # 64 flats
    assert (way.next, way.why.partition(" still")[0]) == (Step.PLAN, "64 call numbers and 162 secrets")
    plan_book(file, MEANS, PASSPHRASE)
    assert _next(file, None) == WayOn(next=Step.CHECK, why="The rules are still looking at the newest revision.")
    assert _next(file) == WayOn(next=Step.PAPERS, why="The pack for site has not been made yet.")
    _note_pack(file, 1)
    assert _next(file).why == "The pack was made of revision 1; the book has gone on since."
    _note_pack(file, 2)
    assert _next(file) == WayOn(next=Step.WORK, why="6 tasks of 10 left to do.")
    assert _next(file, work=DONE).next is Step.HANDOVER
    sign_off(file, Statement.TRAINING, MEANS, name="A. Person", role="owner", on=date(2026, 1, 5))
    way = _next(file, work=DONE)
    assert way.next is None
    assert all(map(way.is_done, Step))


def test_a_book_without_homes_asks_for_them_first(tmp_path: Path) -> None:
    with Book.create(tmp_path / "empty.book", Site(name="Empty"), by="Ada", at=MEANS.now(), message="begun") as book:
        way = way_on(book, Walk(book.site()), 1, FOUND_NOTHING, lambda: DONE)
    assert way.next is Step.HOMES
    assert "import a workbook" in way.why


def test_the_building_tells_the_way_on_and_its_page_is_one_step_of_it(client: TestClient) -> None:
    steps = client.get("/books/medium/onward.json").json()["steps"]
    assert [step["name"] for step in steps] == [step.value for step in Step]
    (coming,) = [step for step in steps if step["is_next"]]
    assert all(step["is_done"] for step in steps[: steps.index(coming)])
    page = client.get("/books/medium").text
    assert f'href="{coming["to"]}" aria-current="step"' in page
    assert all(client.get(step["to"]).status_code == 200 for step in steps)
