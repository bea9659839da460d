"""Planning in the browser: told before, done as a job, told after with every reason; and why it cannot be done."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.app.means import Means
from doorwright.app.take_in import new_book
from doorwright.app.vault import set_passphrase
from doorwright.store.book import Book
from tests.unit.web.following import done, made

PLAN = "/books/fresh/plan"


@pytest.fixture
def fresh(shelf: Path, means: Means) -> Path:
    """A book that nobody has planned."""
    path = shelf / "fresh.book"
    new_book(path, example_workbook(), means)
    return path


def test_what_would_be_issued_is_what_is_issued(client: TestClient, fresh: Path) -> None:
    before = made(client, f"{PLAN}.json")
    assert before["counts"]["call number"] == 65  # one for each of the 64 dwellings of examples/medium, and the desk's
    assert before["secrets_waiting_count"] > 0
    with Book.open(fresh, read_only=True) as book:
        assert book.head().number == 1
    ended = done(client, PLAN)
    assert ended["state"] == "done"
    after = client.get(ended["gave"]["to"], headers={"Accept": "application/json"}).json()
    assert after["counts"] == before["counts"]
    assert (after["done"], after["revision"]) == (True, 2)
    assert after["secrets_waiting_count"] == before["secrets_waiting_count"]
    assert all(line["why"] for line in after["lines"]["rows"])
    page = client.get(ended["gave"]["to"])
    assert "Set a passphrase" in page.text  # there is no vault yet
    assert made(client, f"{PLAN}.json")["counts"] == {}


def test_the_passphrase_is_asked_for_where_there_is_a_vault(client: TestClient, fresh: Path, means: Means) -> None:
    made(client, f"{PLAN}.json")
    assert 'name="passphrase"' not in client.get(PLAN).text
    set_passphrase(fresh, PASSPHRASE, means)
    assert 'name="passphrase"' in client.get(PLAN).text
    assert done(client, PLAN, passphrase=PASSPHRASE.upper())["state"] == "refused"
    with Book.open(fresh, read_only=True) as book:
        assert book.head().number == 1
    ended = done(client, PLAN, passphrase=PASSPHRASE)
    after = client.get(ended["gave"]["to"], headers={"Accept": "application/json"}).json()
    assert after["secrets_waiting_count"] == 0
    assert PASSPHRASE not in str(ended)


def test_issues_are_filtered_and_come_a_piece_at_a_time(client: TestClient, fresh: Path) -> None:
    assert fresh.exists()
    view = made(client, f"{PLAN}.json")
    total = sum(view["counts"].values())
    assert (view["lines"]["total_count"], len(view["lines"]["rows"])) == (total, 200)
    second = client.get(f"{PLAN}.json?from=200").json()["lines"]
    assert len(second["rows"]) == min(200, total - 200)
    assert second["rows"][0] not in view["lines"]["rows"]
    numbers = client.get(f"{PLAN}.json?what=call%20number").json()["lines"]
    assert numbers["total_count"] == view["counts"]["call number"]
    assert client.get(f"{PLAN}.json?what=call%20number&for=nowhere").json()["lines"]["rows"] == []


def test_why_it_cannot_be_planned_is_a_job_of_its_own(client: TestClient) -> None:
    ended = done(client, "/books/medium/plan/why")
    assert "Nothing keeps numbers and registrars" in client.get(ended["gave"]["to"]).text
    assert client.get("/books/medium/plan/why/unknown").status_code == 404


def test_a_result_that_is_no_longer_kept_is_told(client: TestClient) -> None:
    assert client.get("/books/medium/plan/unknown").status_code == 404
