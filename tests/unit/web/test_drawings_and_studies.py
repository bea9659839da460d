"""Drawings and calculations: every sheet of the pack, every question with its workings, made once a revision."""

from pathlib import Path
from xml.etree import ElementTree as ET

import pytest
from starlette.testclient import TestClient

from doorwright.app.draw import SERIES, Material, all_drawings, series_of
from doorwright.app.means import Means
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.store.book import Book
from doorwright.studies.annex import all_studies
from tests.unit.web.following import made

DRAWINGS = "/books/medium/drawings"
STUDIES = "/books/medium/studies"


def test_every_drawing_of_the_pack_has_its_sheet(client: TestClient, shelf: Path) -> None:
    view = made(client, f"{DRAWINGS}.json")
    with Book.open(shelf / "medium.book", read_only=True) as book:
        drawings = all_drawings(Material(Walk(book.site()), book.head()), lambda _: None)
    shown = [sheet["name"] for series in view["series"] for sheet in series["sheets"]]
    assert shown == [drawing.name for drawing in drawings]
    assert client.get(DRAWINGS).text.count('class="thumbs"') == 1
    for name in shown:
        page = made(client, f"{DRAWINGS}/{name}.json")
        assert page["sheet"]["name"] == name
        file = client.get(f"{DRAWINGS}/{name}.svg")
        assert file.headers["content-type"] == "image/svg+xml"
        assert ET.fromstring(file.content).tag.endswith("svg")  # noqa: S314  (our own drawing)


def test_sheets_lead_on_to_each_other(client: TestClient) -> None:
    made(client, f"{DRAWINGS}.json")
    names = []
    at = client.get(f"{DRAWINGS}/riser", headers={"Accept": "application/json"}).json()
    while at:
        names.append(at["sheet"]["name"])
        at = client.get(at["behind"], headers={"Accept": "application/json"}).json() if at["behind"] else None
        if at and "to" in at:
            at = client.get(at["to"], headers={"Accept": "application/json"}).json()
    view = made(client, f"{DRAWINGS}.json")
    assert names == [sheet["name"] for series in view["series"] for sheet in series["sheets"]]
    weeks = [name for name in names if name.startswith("week")]
    assert client.get(f"{DRAWINGS}/week?last=1").url.path.endswith(weeks[-1])


def test_a_sheet_holds_its_drawing_with_the_parts_marked(client: TestClient) -> None:
    made(client, f"{DRAWINGS}/levels-01.json")
    page = client.get(f"{DRAWINGS}/levels-01").text
    assert "<?xml" not in page
    assert "data-part=" in page
    assert 'data-parts="/books/medium/parts/"' in page


@pytest.mark.parametrize("name", ["attic", "riser-77", "levels-99", "links-77"])
def test_a_drawing_that_is_not_there_is_told(client: TestClient, name: str) -> None:
    made(client, f"{DRAWINGS}.json")
    assert client.get(f"{DRAWINGS}/{name}").status_code == 404
    assert client.get(f"{DRAWINGS}/{name}.svg").status_code == 404


def test_a_series_without_a_sheet_says_so(client: TestClient, shelf: Path, means: Means) -> None:
    with Book.open(shelf / "medium.book") as book:
        head = book.head()
        bare = Site(name="Bare ground")
        book.save(bare, parent=head.number, by=means.who, at=means.now(), message="everything taken away")
    made(client, f"{DRAWINGS}/links.json")
    assert "nothing yet that this drawing could show" in client.get(f"{DRAWINGS}/links").text
    assert "There is nothing to calculate yet" in client.get(STUDIES).text


def test_names_of_sheets_tell_their_series() -> None:
    assert [series_of(f"{series.name}-02") for series in SERIES] == list(SERIES)
    assert series_of("power-charts") is not series_of("power")
    assert series_of("attic") is None


def test_every_study_stands_under_its_question(client: TestClient, shelf: Path) -> None:
    view = made(client, f"{STUDIES}.json")
    with Book.open(shelf / "medium.book", read_only=True) as book:
        studies = tuple(all_studies(Walk(book.site())))
    assert {one["title"] for one in view["questions"]} == {study.title for study in studies}
    assert sum(one["answered_count"] + one["waiting_count"] for one in view["questions"]) == len(studies)
    assert view["questions"][0]["short_count"] > 0  # what is short stands before the rest


def test_the_least_margin_stands_first_with_its_workings(client: TestClient) -> None:
    made(client, f"{STUDIES}.json")
    view = client.get(f"{STUDIES}/voltage-at-the-lock.json").json()
    worst = view["cases"]["rows"][0]
    # 58 m of a two-wire run: 2 x 0.026 ohm/m x 58 m x (1 + 0.00393 x 10) = 3.135 ohm
    assert (worst["name"], worst["short"]) == ("Cycle store", True)
    figures = dict(zip((one["words"] for one in view["headings"]), worst["cells"], strict=True))
    assert (figures["loop"], figures["minimum"], figures["enough"]) == ("3.135", "10.8", "no")
    case = client.get(f"{STUDIES}/voltage-at-the-lock/case.json", params={"kind": worst["kind"], "id": worst["ident"]})
    steps = case.json()["steps"]
    assert steps[0]["title"] == "Loop resistance of a two-wire run"
    assert all(step["formula"] and step["sources"] and step["runs"] for step in steps)
    only = client.get(f"{STUDIES}/voltage-at-the-lock.json?only=short").json()
    assert {one["short"] for one in only["cases"]["rows"]} == {True}
    found = client.get(f"{STUDIES}/voltage-at-the-lock.json?for=entrance%20c").json()
    assert {one["where"] for one in found["cases"]["rows"]} == {"Entrance C"}


def test_a_case_that_waits_says_what_is_missing(client: TestClient) -> None:
    made(client, f"{STUDIES}.json")
    waiting = client.get(f"{STUDIES}/length-of-the-data-link.json").json()["waiting"]["rows"]
    assert {name for one in waiting for name in one["missing"]} == {"length of cable run"}
    page = client.get(
        f"{STUDIES}/length-of-the-data-link/case", params={"kind": waiting[0]["kind"], "id": waiting[0]["ident"]}
    )
    assert "length of cable run" in page.text


def test_a_question_or_case_that_is_not_there_is_told(client: TestClient) -> None:
    made(client, f"{STUDIES}.json")
    assert client.get(f"{STUDIES}/colour-of-the-door").status_code == 404
    assert client.get(f"{STUDIES}/voltage-at-the-lock/case?kind=door&id=none").status_code == 404
