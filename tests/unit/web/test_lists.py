"""Lists to read: every table that `show` prints."""

import pytest
from starlette.testclient import TestClient

from doorwright.app.show import SUBJECTS


@pytest.mark.parametrize("what", SUBJECTS)
def test_every_list_has_a_page(client: TestClient, what: str) -> None:
    view = client.get(f"/books/medium/lists/{what}.json").json()
    assert view["what"] == what
    assert all(len(row) == len(view["headings"]) for row in view["rows"]["rows"])
    assert what.capitalize() in client.get(f"/books/medium/lists/{what}").text


def test_the_tables_page_leads_to_them(client: TestClient) -> None:
    assert "/books/medium/lists/pairings" in client.get("/books/medium/tables").text


def test_a_list_that_is_not_there_is_told(client: TestClient) -> None:
    page = client.get("/books/medium/lists/wishes")
    assert page.status_code == 404
    assert "pairings" in page.text
