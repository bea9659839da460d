"""The page of what was found: the rehearsal stands between the plan and the real building."""

from pathlib import Path

from starlette.testclient import TestClient

from doorwright.app.conditions import Conditions
from doorwright.app.means import Means
from doorwright.app.rehearse_book import rehearse_book

PAGE = "/books/medium/found"


def test_what_was_rehearsed_otherwise_has_a_column_of_its_own(client: TestClient, shelf: Path, means: Means) -> None:
    assert client.get(f"{PAGE}.json").json()["rehearsal"] is None
    made = rehearse_book(shelf / "medium.book", means, Conditions(faults=("wrong-secret:URU 12",)), keep=True)
    view = client.get(f"{PAGE}.json").json()
    lines = {(one["part"], one["what"]): one for one in view["differences"]["rows"]}
    line = lines["URU 12", "registered"]
    assert (line["planned"], line["rehearsed"], line["found"]) == ("yes", "no", "")
    assert view["rehearsal"]["calls_count"] == len(made.rehearsal.played)
    assert not view["rehearsal"]["is_stale"]
    page = client.get(PAGE).text
    assert "Rehearsed</th>" in page
    assert f"Rehearsed at revision {made.revision} on 2026-11-25" in page
    assert "Nothing was found yet" not in page
