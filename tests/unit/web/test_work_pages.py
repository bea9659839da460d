"""Days played, work shared out, switches placed: forms, refusals, results with a page of their own."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.model.network import CableRun
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.store.book import Book
from tests.unit.web.following import done, made

JSON = {"Accept": "application/json"}


def test_a_day_is_played_and_the_same_seed_gives_the_same(client: TestClient) -> None:
    form = client.get("/books/medium/day.json").json()
    gate = next(one for one in form["entrances"] if one["name"] == "Gate")
    asked = {"days": "20", "seed": "7", f"more-{gate['id']}": "1"}
    first, second = (
        client.get(done(client, "/books/medium/day", **asked)["gave"]["to"], headers=JSON).json() for _ in range(2)
    )
    assert first == second
    assert first["figures"]["days"] == 20
    assert len(first["tables"][0]["rows"]) == 25  # 24 hours and the day
    assert "1 call unit more at Gate" in first["tables"][2]["title"]
    assert first["assumptions"]


def test_fields_that_cannot_be_read_are_told_all_at_once(client: TestClient) -> None:
    answer = client.post("/books/medium/day", data={"days": "1", "seed": "-3", "desks": "many"})
    assert answer.status_code == 422
    for where in ("Days", "Seed", "More desks"):
        assert f'<th scope="row">{where}</th>' in answer.text
    answer = client.post("/books/medium/schedule", data={"technicians": "0", "search": "nan", "door_s": "-1"})
    assert answer.status_code == 422
    assert answer.text.count('<th scope="row">') == 3


def test_the_work_is_shared_out(client: TestClient) -> None:
    ended = done(client, "/books/medium/schedule", technicians="3", search="0", level_s="60")
    view = client.get(ended["gave"]["to"], headers=JSON).json()
    assert len(view["technicians"]) == 3
    numbers = sorted(visit["number"] for visits in view["technicians"] for visit in visits)
    assert numbers == list(range(1, len(numbers) + 1))  # every job of the run sheet once
    sheet = client.get(view["sheets"][0]["file"])
    assert sheet.headers["content-type"] == "image/svg+xml"
    assert "<svg" in client.get(ended["gave"]["to"]).text
    assert client.get(f"{ended['gave']['to']}/attic.svg").status_code == 404


def _without_runs(shelf: Path, means: Means, *names: str) -> int:
    """Take cable runs out of the book, and return the revision."""
    with Book.open(shelf / "medium.book") as book:
        head, site = book.head(), book.site()
        runs = tuple(run for run in site.runs if run.name not in names)
        after = site.with_tables({CableRun: runs})
        return book.save(after, parent=head.number, by=means.who, at=means.now(), message="less cable").number


def test_places_are_proposed_and_then_taken_over(client: TestClient, shelf: Path, means: Means) -> None:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        walk = Walk(book.site())
        gone = next(run.name for run in walk.all(CableRun) if walk.find(Unit, run.far) is not None)
    revision = _without_runs(shelf, means, gone)
    proposed = done(client, "/books/medium/places", search="0")["gave"]["to"]
    view = client.get(proposed, headers=JSON).json()
    assert (view["saved"], view["revision"], view["runs"]["total_count"]) == (False, revision, 1)
    taken = done(client, f"{proposed}/take")["gave"]["to"]
    view = client.get(taken, headers=JSON).json()
    assert (view["saved"], view["revision"]) == (True, revision + 1)
    again = client.post(f"{proposed}/take")
    assert again.status_code == 422
    assert f"revision {revision + 1} was saved since" in again.text


def test_places_that_cannot_be_found_say_why(client: TestClient) -> None:
    ended = done(client, "/books/medium/places", search="0", types="switch-of-nobody")
    assert ended["state"] == "refused"
    assert [one["problem"] for one in ended["mistakes"]] == ["this is no profile of a switch"]


@pytest.mark.parametrize("address", ["day/none", "schedule/none", "places/none"])
def test_results_that_are_no_longer_kept_are_told(client: TestClient, address: str) -> None:
    assert client.get(f"/books/medium/{address}").status_code == 404


def test_what_was_made_for_a_revision_is_made_again_for_the_next(client: TestClient, shelf: Path, means: Means) -> None:
    before = made(client, "/books/medium/studies.json")["revision"]
    assert _without_runs(shelf, means, "C059") == before + 1
    assert made(client, "/books/medium/studies.json")["revision"] == before + 1
    names = client.get("/books/medium/studies/length-of-the-data-link.json").json()
    assert names["cases"]["rows"]
    assert "C059" not in {one["name"] for kind in ("cases", "waiting") for one in names[kind]["rows"]}
