"""The sheet of every kind of part, its past, and the ways to it by whatever one has in hand."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.site import PARTS
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.store.book import Book


@pytest.fixture
def walk(shelf: Path) -> Walk:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        return Walk(book.site())


def _sheet(client: TestClient, ident: str) -> dict[str, object]:
    sheet: dict[str, object] = client.get(f"/books/medium/parts/{ident}.json").json()["sheet"]
    return sheet


def test_every_kind_of_part_has_a_sheet(client: TestClient, walk: Walk) -> None:
    client.get("/books/medium/marks.json")  # the rules have looked
    for kind in PARTS:
        for part in walk.all(kind)[:1]:
            page = client.get(f"/books/medium/parts/{part.id}")
            assert page.status_code == 200, kind
            assert "<svg" in page.text
            assert _sheet(client, part.id)["judged"] is True


def test_a_receivers_sheet_tells_both_ends_of_its_pairing(client: TestClient, walk: Walk) -> None:
    unit = next(one for one in walk.units_of_kind(UnitKind.URU) if one.registrar is not None)
    sheet = client.get(f"/books/medium/parts/{unit.id}.json").json()["sheet"]
    at_unit, at_registrar = sheet["ends"]
    assert {"name": "address", "value": unit.address, "secret": False} in at_unit["entries"]
    assert at_registrar["at"]["id"] == unit.registrar
    assert {"name": "serial number", "value": unit.serial, "secret": False} in at_registrar["entries"]
    secrets = [entry for end in sheet["ends"] for entry in end["entries"] if entry["secret"]]
    assert secrets
    assert all(entry["value"].startswith("sealed sheet, line ") for entry in secrets)
    facts = {fact["heading"]: fact for fact in sheet["facts"]}
    assert facts["Dwelling"]["links"][0]["id"] == unit.dwelling
    assert facts["Serial"]["text"] == unit.serial


def test_an_entrances_sheet_leads_to_its_units_doors_and_dwellings(client: TestClient, walk: Walk) -> None:
    entrance = next(one for one in walk.all(Entrance) if walk.doors_of(one.id))
    related = {
        one["title"]: one for one in client.get(f"/books/medium/parts/{entrance.id}.json").json()["sheet"]["related"]
    }
    assert {one["id"] for one in related["Its doors"]["links"]} == {door.id for door in walk.doors_of(entrance.id)}
    served = related["Dwellings that it serves"]
    assert len(served["links"]) + served["more_count"] == len(walk.dwellings_served(entrance))


def test_a_cable_runs_sheet_shows_what_is_calculated_about_it(client: TestClient, walk: Walk) -> None:
    run = next(run for run in walk.all(CableRun) if walk.find(Unit, run.far) and run.length_m is not None)
    titles = {one["title"] for one in client.get(f"/books/medium/parts/{run.id}.json").json()["sheet"]["calculated"]}
    assert titles


def test_the_ways_from_a_part_lead_to_forms_filled_in(client: TestClient, walk: Walk) -> None:
    switch = walk.all(Switch)[0]
    ways = client.get(f"/books/medium/parts/{switch.id}.json").json()["ways"]
    assert ways
    for way in ways:
        assert switch.name.replace(" ", "+") in way["to"]
        assert client.get(way["to"]).status_code == 200, way


def test_the_past_of_a_part_names_the_revisions_that_changed_it(client: TestClient, walk: Walk) -> None:
    unit = next(one for one in walk.units_of_kind(UnitKind.URU) if one.address is not None)
    turns = client.get(f"/books/medium/parts/{unit.id}/past.json").json()["turns"]
    assert [turn["revision"] for turn in turns] == [2, 1]  # it came with the workbook; the plan gave it its address
    assert any(change.startswith("address: none → ") for change in turns[0]["changes"])
    assert turns[1]["changes"] == ["added"]
    assert turns[0]["made_by"] == "Ada Planner"


def test_htmx_gets_the_sheet_alone(client: TestClient, walk: Walk) -> None:
    piece = client.get(f"/books/medium/parts/{walk.all(Dwelling)[0].id}", headers={"HX-Request": "true"}).text
    assert "<h1>" in piece
    assert "<svg" not in piece


def test_a_part_that_never_was_is_told(client: TestClient) -> None:
    assert client.get("/books/medium/parts/nobody").status_code == 404
    assert client.get("/books/medium/parts/nobody/past").status_code == 404


# find


def _hits(client: TestClient, text: str) -> list[tuple[str, str]]:
    found = client.get("/books/medium/seek.json", params={"for": text}).json()["hits"]["rows"]
    return [(hit["id"], hit["by"]) for hit in found]


def test_one_hit_is_gone_to(client: TestClient, walk: Walk) -> None:
    unit = next(one for one in walk.all(Unit) if one.serial and one.mac and one.address)
    assert unit.serial
    answer = client.get("/books/medium/seek", params={"for": unit.serial}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"/books/medium/parts/{unit.id}")


def test_a_part_is_found_by_each_of_its_facts(client: TestClient, walk: Walk) -> None:
    unit = next(one for one in walk.all(Unit) if one.serial and one.mac and one.address)
    assert unit.mac
    assert unit.serial
    # a MAC address as printed on boxes: hyphens, colons, dots after four digits, or nothing between
    bare = unit.mac.replace("-", "").lower()
    spelt = (unit.mac, unit.mac.replace("-", ":"), bare, ".".join((bare[:4], bare[4:8], bare[8:])))
    assert [_hits(client, text) for text in spelt] == [[(unit.id, "MAC address")]] * 4
    assert _hits(client, unit.address or "") == [(unit.id, "IP address")]
    assert _hits(client, unit.name.upper()) == [(unit.id, "name")]
    assert _hits(client, unit.serial.lower()) == [(unit.id, "serial number")]


def test_a_dwelling_is_found_by_its_label_alone_and_behind_its_core(client: TestClient, walk: Walk) -> None:
    dwelling = next(one for one in walk.all(Dwelling) if one.door_label == "22")
    for text in ("22", " 22 ", "Stair A/22", "flat 22", "dwelling 22"):
        assert _hits(client, text) == [(dwelling.id, "door label")], text
    assert dwelling.call_number
    assert (dwelling.id, "call number") in _hits(client, dwelling.call_number) or dwelling.call_number == "22"


def test_what_has_the_text_in_it_is_listed_where_nothing_is_exactly_it(client: TestClient) -> None:
    page = client.get("/books/medium/seek", params={"for": "panel"})
    assert page.status_code == 200
    assert "Gate panel" in page.text
    assert "with it in them" in page.text


def test_more_than_is_exactly_it_can_be_asked_for(client: TestClient) -> None:
    narrow, wide = (
        client.get("/books/medium/seek.json", params={"for": "22", "wide": wide}).json()["hits"]["total_count"]
        for wide in ("", "yes")
    )
    assert wide > narrow == 1


@pytest.mark.parametrize("text", ["", "   ", "nothing of this name", "<script>", "%", "'" * 500, "\u202e"])
def test_odd_texts_find_nothing_and_break_nothing(client: TestClient, text: str) -> None:
    page = client.get("/books/medium/seek", params={"for": text})
    assert page.status_code == 200
    assert "<script>" not in page.text.replace("<script src", "")
