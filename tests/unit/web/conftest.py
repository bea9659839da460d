"""A server in this process: the medium example as a book, planned, on a shelf of its own."""

import shutil
from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.take_in import new_book
from doorwright.app.vault import set_passphrase
from doorwright.web.application import application

HOST = "127.0.0.1:8620"
ORIGIN = {"Origin": f"http://{HOST}"}
"""What a browser sends along with a form of our own page."""
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="session")
def means() -> Means:
    return Means(who="Ada Planner", now=lambda: NOON)


@pytest.fixture(scope="session")
def planned_book(tmp_path_factory: pytest.TempPathFactory, means: Means) -> Path:
    """The medium example, planned, with the demo's passphrase. Not to be changed: ``shelf`` copies it."""
    book = tmp_path_factory.mktemp("planned") / "medium.book"
    new_book(book, example_workbook(), means)
    set_passphrase(book, PASSPHRASE, means)
    plan_book(book, means, PASSPHRASE)
    return book


@pytest.fixture
def shelf(tmp_path: Path, planned_book: Path) -> Path:
    """A folder with a copy of the planned book."""
    folder = tmp_path / "books"
    folder.mkdir()
    shutil.copyfile(planned_book, folder / "medium.book")
    return folder


@pytest.fixture
def client(shelf: Path, means: Means) -> Iterator[TestClient]:
    """A browser's requests, from a page of our own."""
    app = application(shelf, means, hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client
