"""The page of signatures: recorded, listed, replaced, refused."""

import pytest
from starlette.testclient import TestClient

PAGE = "/books/medium/signatures"
GIVEN = {
    "statement": "training given",
    "part": "",
    "name": "C. Owner",
    "role": "owner",
    "on": "2026-11-20",
    "until": "",
}


def test_a_signature_is_recorded_and_not_approved(client: TestClient) -> None:
    assert "Nobody has signed" in client.get(PAGE).text
    page = client.post(PAGE, data=GIVEN)
    assert "Recorded, not approved: training given: C. Owner (owner) on 2026-11-20." in page.text
    (line,) = client.get(f"{PAGE}.json").json()["lines"]
    assert (line["part"], line["state"], line["recorded_by"]) == ("Tallow Yard", "current", "Ada Planner")


def test_a_later_signature_replaces_an_earlier_one(client: TestClient) -> None:
    door = {**GIVEN, "statement": "escape route release tested", "part": "Front door A", "until": "2027-11-30"}
    client.post(PAGE, data=door)
    client.post(PAGE, data={**door, "name": "D. Warden"})
    lines = client.get(f"{PAGE}.json").json()["lines"]
    assert [(one["name"], one["state"]) for one in lines] == [("D. Warden", "current"), ("C. Owner", "replaced")]


def test_a_page_that_leads_here_says_of_what(client: TestClient) -> None:
    page = client.get(PAGE, params={"part": "Front door A", "statement": "fire alarm release tested"}).text
    assert 'value="Front door A"' in page
    assert "<option selected>fire alarm release tested" in page


@pytest.mark.parametrize(
    ("wrong", "why"),
    [
        ({"statement": "all is well"}, "nobody says this"),
        ({"on": "soon"}, "this is no day"),
        ({"until": "2026-13-01"}, "this is no day"),
        ({"on": "2026-12-24"}, "has not come yet"),
        ({"until": "2026-11-01"}, "has passed"),
        ({"name": " "}, "nobody is named"),
        ({"role": ""}, "no role is given"),
        ({"part": "Castle gate"}, "no such part"),
        ({"statement": "escape route release tested"}, "said of one door"),
        ({"statement": "escape route release tested", "part": "SW-A1"}, "no such door"),
    ],
)
def test_what_cannot_be_recorded_is_refused(client: TestClient, wrong: dict[str, str], why: str) -> None:
    answer = client.post(PAGE, data={**GIVEN, **wrong})
    assert (answer.status_code, why in answer.text) == (422, True)
    assert client.get(f"{PAGE}.json").json()["lines"] == []


def test_all_mistakes_are_told_at_once(client: TestClient) -> None:
    answer = client.post(PAGE, data={**GIVEN, "on": "soon", "until": "later"})
    assert answer.text.count("this is no day") == 2
