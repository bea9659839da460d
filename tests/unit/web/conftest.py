"""A server in this process: the medium example as a book, planned, on a shelf of its own."""

from collections.abc import Iterator
from datetime import UTC, datetime
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.web.application import application

HOST = "127.0.0.1:8620"
ORIGIN = {"Origin": f"http://{HOST}"}
"""What a browser sends along with a form of our own page."""
NOON = datetime(2026, 11, 25, 12, tzinfo=UTC)


@pytest.fixture(scope="session")
def means() -> Means:
    return Means(who="Ada Planner", now=lambda: NOON)


@pytest.fixture
def client(shelf: Path, means: Means) -> Iterator[TestClient]:
    """A browser's requests, from a page of our own."""
    app = application(shelf, means, hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client
