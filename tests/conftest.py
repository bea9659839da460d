"""What all tests share: Hypothesis without a clock, because a busy machine is no fault of the code; a planned book.

In CI every run draws the same examples, so that a change is judged by itself; elsewhere each run draws new ones.
"""

import os
import shutil
from pathlib import Path

import pytest
from hypothesis import settings

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.app.means import Means
from doorwright.app.plan_book import plan_book
from doorwright.app.take_in import new_book
from doorwright.app.vault import set_passphrase

settings.register_profile("house", deadline=None, print_blob=True, derandomize="CI" in os.environ)
settings.load_profile("house")


@pytest.fixture(scope="session")
def planned_book(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The medium example, planned, with the demo's passphrase. Not to be changed: ``shelf`` copies it."""
    means = Means(who="Ada Planner")
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
