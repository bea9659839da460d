"""Changes by form, seen before they are saved; history, comparison, the touch list on paper, the way back."""

import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import PASSPHRASE
from doorwright.web.guides import GUIDES

REPLACE = "/books/medium/changes/replace"


def a_receiver(client: TestClient) -> str:
    pages = client.get("/books/medium/changes/replace.json").json()
    offers: list[str] = next(field["offers"] for field in pages["fields"] if field["name"] == "unit")
    return next(name for name in offers if name.startswith("URU"))


def test_every_kind_of_change_has_a_form(client: TestClient) -> None:
    kinds = client.get("/books/medium/changes.json").json()
    assert [kind["step"] for kind in kinds] == [guide.step for guide in GUIDES]
    for guide in GUIDES:
        page = client.get(f"/books/medium/changes/{guide.step}")
        assert page.status_code == 200
        assert guide.title in page.text
    assert client.get("/books/medium/changes/paint-it").status_code == 404


def test_a_change_is_seen_first_and_then_saved(client: TestClient) -> None:
    unit = a_receiver(client)
    fields = {"unit": unit, "serial": "X90001", "mac": "00-00-5E-00-53-F1"}
    seen = client.post(REPLACE, data=fields)
    assert seen.status_code == 200
    assert f"replace {unit}" in seen.text
    assert "new box" in seen.text
    assert client.get("/books/medium/history.json").json()["newest"] == 2
    done = client.post(REPLACE, data={**fields, "really": "yes"})
    assert "Revision 3: replace" in done.text
    compared = client.get("/books/medium/history/3.json").json()
    assert [story["part"] for story in compared["stories"]] == [unit]
    assert unit in [visit["name"] for visit in compared["touch"]["visits"]]


def test_what_is_missing_is_told_all_at_once_and_what_was_typed_stays(client: TestClient) -> None:
    page = client.post("/books/medium/changes/add-dwelling", data={"label": "14A"})
    assert page.status_code == 422
    assert page.text.count("nothing stands there") == 2  # core and level
    assert 'value="14A"' in page.text


def test_a_refusal_is_told_on_the_form(client: TestClient) -> None:
    page = client.post(REPLACE, data={"unit": "URU nowhere", "serial": "X1"})
    assert page.status_code == 422
    assert "is called" in page.text
    assert 'value="URU nowhere"' in page.text


def test_a_new_secret_needs_the_right_passphrase(client: TestClient) -> None:
    unit = a_receiver(client)
    fields = {"unit": unit, "really": "yes", "passphrase": "not this one, surely not"}
    assert client.post("/books/medium/changes/new-secret", data=fields).status_code == 422
    done = client.post("/books/medium/changes/new-secret", data={**fields, "passphrase": PASSPHRASE})
    assert done.status_code == 200
    assert client.get("/books/medium/history.json").json()["newest"] == 3
    assert PASSPHRASE not in done.text


def test_going_back_is_a_new_revision(client: TestClient) -> None:
    client.post(REPLACE, data={"unit": a_receiver(client), "serial": "X90001", "really": "yes"})
    page = client.post("/books/medium/history/back", data={"to": "2"})
    assert "undo: back to revision 2" in page.text
    assert client.get("/books/medium/history/compare.json?earlier=2&later=4").json()["differences_count"] == 0
    assert client.post("/books/medium/history/back", data={"to": "2"}).status_code == 422
    assert client.post("/books/medium/history/back", data={"to": "two"}).status_code == 422


def test_the_touch_list_comes_on_paper(client: TestClient) -> None:
    client.post(REPLACE, data={"unit": a_receiver(client), "serial": "X90001", "really": "yes"})
    paper = client.get("/books/medium/history/touch-list.pdf?earlier=2&later=3")
    assert paper.content.startswith(b"%PDF")
    assert client.get("/books/medium/history/touch-list.pdf?earlier=2&later=2").status_code == 422


@pytest.mark.parametrize("where", ["history/9", "history/compare?earlier=1&later=9"])
def test_a_revision_that_is_not_there_is_told(client: TestClient, where: str) -> None:
    assert "the book has no revision 9" in client.get(f"/books/medium/{where}").text


def test_the_first_revision_has_nothing_before_it(client: TestClient) -> None:
    assert "The first:" in client.get("/books/medium/history/1").text
