"""What stands around every page, the JSON twins, and what is answered when something is wrong."""

from starlette.testclient import TestClient


def test_the_start_shows_every_book(client: TestClient) -> None:
    page = client.get("/")
    assert page.status_code == 200
    assert "Tallow Yard" in page.text
    assert client.get("/start.json").json()["books"][0]["dwellings_count"] == 64


def test_a_page_and_its_twin_say_the_same(client: TestClient) -> None:
    assert "Tallow Yard" in client.get("/books/medium").text
    assert client.get("/books/medium.json").json()["site"] == "Tallow Yard"
    assert client.get("/books/medium", headers={"Accept": "application/json"}).json()["site"] == "Tallow Yard"


def test_a_book_that_is_not_there_is_told_as_a_page_and_as_problem_details(client: TestClient) -> None:
    page = client.get("/books/tower")
    assert page.status_code == 404
    assert "there is no book &#39;tower&#39; here" in page.text
    answer = client.get("/books/tower.json")
    assert answer.headers["content-type"] == "application/problem+json"  # RFC 9457 §3
    assert answer.json()["status"] == 404


def test_a_host_that_is_not_ours_is_refused(client: TestClient) -> None:
    assert client.get("/", headers={"Host": "rebound.example:8620"}).status_code == 421  # RFC 9110 §15.5.20


def test_pages_may_load_nothing_from_elsewhere(client: TestClient) -> None:
    policy = client.get("/").headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "unsafe" not in policy
