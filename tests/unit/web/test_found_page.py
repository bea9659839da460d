"""The page of what was found: a table is given, its columns explained once, and the plan stands beside it."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.model.unit import UnitKind
from doorwright.store.book import Book
from doorwright.web.held import KEPT_FOR, Tables
from tests.unit.web.conftest import NOON

PAGE = "/books/medium/found"
HEADINGS = "Device name,IP address,Serial no,Password,Remark"


@pytest.fixture
def rows(shelf: Path) -> list[str]:
    """Two receivers as planned, one with another address, and one box that no plan has."""
    with Book.open(shelf / "medium.book", read_only=True) as book:
        units = [one for one in book.site().units if one.kind is UnitKind.URU and one.serial and one.address][:3]
    there = [f"{one.name},{one.address},{one.serial},hush-hush,-" for one in units[:2]]
    return [*there, f"{units[2].name},192.0.2.250,{units[2].serial},hush-hush,-", ",192.0.2.251,Z99999999,hush-hush,-"]


def give(client: TestClient, rows: list[str], headings: str = HEADINGS, **facts: str) -> Any:
    content = "\n".join((headings, *rows)).encode()
    data = {"mapping": "unit export", "switch": "", "seen_at": "", **facts}
    return client.post(PAGE, data=data, files={"table": ("units.csv", content, "text/csv")})


def tell(client: TestClient, page: Any, **tells: str) -> Any:
    columns = client.get(f"{page.url.path}.json").json()["columns"]
    told = [(one["heading"], tells.get(one["heading"], one["guess"])) for one in columns if not one["may_be_secret"]]
    data = {"heading": [heading for heading, _ in told], "tells": [word for _, word in told]}
    return client.post(page.url.path, data=data)


def test_a_table_is_explained_once_and_then_taken_at_once(client: TestClient, rows: list[str]) -> None:
    asked = give(client, rows)
    assert asked.url.path.startswith(f"{PAGE}/columns/")
    assert "may hold secrets: never read" in asked.text
    columns = client.get(f"{asked.url.path}.json").json()["columns"]
    assert [(one["heading"], one["guess"]) for one in columns] == [
        ("Device name", "unit"), ("IP address", "address"), ("Serial no", "serial"), ("Password", ""), ("Remark", ""),
    ]  # fmt: skip
    taken = tell(client, asked)
    # name, address and serial number of three units, and the box that no plan has
    assert "Read 10 values of 3 parts" in taken.text
    assert "in no plan: 1." in taken.text
    assert "hush-hush" not in taken.text

    found = client.get(f"{PAGE}.json").json()
    assert found["seen_count"] == 3
    assert [(one["what"], one["found"]) for one in found["differences"]["rows"]] == [("IP address", "192.0.2.250")]
    assert [one["part"] for one in found["strangers"]] == ["serial number Z99999999"]
    page = client.get(PAGE).text
    assert "192.0.2.250" in page
    assert "In no plan" in page

    again = give(client, rows)  # the mapping is known now
    assert "Taken in" in again.text
    anew = give(client, rows, anew="yes")
    assert anew.url.path.startswith(f"{PAGE}/columns/")


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"mapping": ""}, "mapping has no name"),
        ({"seen_at": "noonish"}, "no moment"),
    ],
)
def test_what_is_wrong_with_what_goes_with_a_table_is_refused(
    client: TestClient, rows: list[str], facts: dict[str, str], why: str
) -> None:
    answer = give(client, rows, **facts)
    assert (answer.status_code, why in answer.text) == (422, True)


def test_a_table_that_cannot_be_read_is_refused_before_anybody_explains_it(client: TestClient) -> None:
    data = {"mapping": "unit export"}
    for name, content in (("x.xlsx", b"no workbook"), ("x.csv", b""), ("x.exe", b"MZ")):
        answer = client.post(PAGE, data=data, files={"table": (name, content)})
        assert answer.status_code == 422, name
    assert "no file was given" in client.post(PAGE, data=data).text


def test_columns_that_tell_nothing_or_no_unit_are_refused_and_can_be_told_again(
    client: TestClient, rows: list[str]
) -> None:
    asked = give(client, rows)
    nothing = dict.fromkeys(HEADINGS.split(","), "")
    assert "no column tells anything" in tell(client, asked, **nothing).text
    only_mask = {**nothing, "Remark": "mask"}
    assert "no column tells which unit" in tell(client, asked, **only_mask).text
    twice = tell(client, asked, Remark="serial")
    assert (twice.status_code, "given twice" in twice.text) == (422, True)
    future = give(client, rows, seen_at="2031-01-01T10:00")
    assert "has not come yet" in tell(client, future).text
    assert tell(client, asked).is_success


def test_a_table_is_held_for_its_giver_and_for_an_hour() -> None:
    moment = NOON
    tables = Tables(lambda: moment)
    held = tables.hold("Ada", file_name="C:\\exports\\a.csv", content=b"", mapping="m", switch="", seen_at=None)
    assert (held.file_name, held.seen_at) == ("a.csv", NOON)
    assert tables.find(held.id, "Ada") == held
    assert tables.find(held.id, "Bo") is None
    for _ in range(3):
        tables.hold("Ada", file_name="b.csv", content=b"", mapping="m", switch="", seen_at=None)
    assert tables.find(held.id, "Ada") is None
    kept = tables.hold("Bo", file_name="", content=b"", mapping="m", switch="", seen_at=NOON)
    moment += KEPT_FOR + timedelta(seconds=1)
    assert tables.find(kept.id, "Bo") is None


def test_a_table_that_is_no_longer_here_is_told(client: TestClient) -> None:
    assert client.get(f"{PAGE}/columns/none").status_code == 404
    assert client.post(f"{PAGE}/columns/none", data={"heading": "x", "tells": "unit"}).status_code == 404
