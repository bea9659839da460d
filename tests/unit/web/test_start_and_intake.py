"""A workbook as a new book and into one: mistakes beside their cells, nothing saved before they are gone."""

import io
from datetime import timedelta
from pathlib import Path

import openpyxl
import pytest
from starlette.testclient import TestClient

from doorwright.app.demo import example_workbook
from doorwright.store.book import Book
from doorwright.store.workbook import workbook_bytes
from doorwright.store.workbook.grid import Grid
from doorwright.web.intake import KEPT_COUNT, KEPT_FOR, Intake, Intakes, corrected, sheets_in
from tests.unit.web.conftest import NOON

GOOD = b"Dwelling,Core,Level,Unit type\n1,A,Ground,uru-video\n2,A,1,uru-video\n"
BAD = b"Dwelling,Core,Level,Unit type\n1,A,,uru-video\n2,A,1,nobody's type\n"
UNTYPED = b"Dwelling,Core,Level,Serial\n1,A,Ground,X1\n2,A,1,X2\n"


def _give(client: TestClient, content: bytes, to: str = "/intake", name: str = "yard.csv", **fields: str) -> str:
    """Give a workbook and return the address of its page."""
    answer = client.post(to, files={"workbook": (name, content)}, data=fields, follow_redirects=False)
    assert answer.status_code == 303, answer.text
    return answer.headers["location"]


def _books(shelf: Path) -> set[str]:
    return {path.name for path in shelf.glob("*.book")}


def test_a_sound_workbook_makes_a_book(client: TestClient, shelf: Path) -> None:
    page = _give(client, GOOD, name_of="")
    view = client.get(f"{page}.json").json()
    assert (view["mistakes_count"], view["name"], view["counts"]["dwelling"]) == (0, "yard", 2)
    assert _books(shelf) == {"medium.book"}, "nothing is saved before somebody says so"
    answer = client.post(f"{page}/save", data={"name": "Cobble Row"})
    assert answer.url.path == "/books/Cobble Row"
    assert _books(shelf) == {"medium.book", "Cobble Row.book"}
    assert client.get(page).status_code == 404, "what is saved is no longer kept"


def test_mistakes_stand_beside_their_cells_and_are_corrected_there(client: TestClient, shelf: Path) -> None:
    page = _give(client, BAD)
    sheet = client.get(f"{page}.json").json()["sheets"][0]
    fields = {cell["field"]: cell["text"] for row in sheet["rows"] for cell in row["cells"] if cell["field"]}
    # rows and columns from 0: "Level" (column 2) of the first home (row 1), "Unit type" (column 3) of the second
    assert fields == {"cell.0.1.2": "", "cell.0.2.3": "nobody's type"}
    assert 'aria-invalid="true"' in client.get(page).text
    refused = client.post(f"{page}/save", data={"name": "early"})
    assert refused.status_code == 422
    assert _books(shelf) == {"medium.book"}
    client.post(f"{page}/correct", data={"cell.0.1.2": "Ground", "cell.0.2.3": "uru-audio"})
    view = client.get(f"{page}.json").json()
    assert (view["mistakes_count"], view["corrected_count"]) == (0, 2)


def test_a_column_that_is_lacking_is_filled_for_every_row_at_once(client: TestClient) -> None:
    page = _give(client, UNTYPED)
    view = client.get(f"{page}.json").json()
    assert view["mistakes_count"] == 2
    heading = view["sheets"][0]["headings"][4]
    assert (heading["letter"], heading["text"]) == ("E", "Unit type")
    client.post(f"{page}/correct", data={heading["field"]: heading["text"], heading["rows_field"]: "uru-video"})
    assert client.get(f"{page}.json").json()["mistakes_count"] == 0


def test_the_corrected_workbook_can_be_given_again(client: TestClient) -> None:
    page = _give(client, BAD)
    assert _give(client, GOOD, f"{page}/again") == page
    assert client.get(f"{page}.json").json()["mistakes_count"] == 0


def test_a_row_is_left_out_and_every_correction_undone(client: TestClient) -> None:
    twice = b"Dwelling,Core,Level\n1,A,G\n1,A,G\n2,A,G\n"
    page = _give(client, twice)
    (row,) = client.get(f"{page}.json").json()["sheets"][0]["rows"]
    assert row["number"] == 3
    client.post(f"{page}/correct", data={row["out_field"]: "yes"})
    view = client.get(f"{page}.json").json()
    assert (view["mistakes_count"], view["counts"]["dwelling"]) == (0, 2)
    client.post(f"{page}/undo")
    view = client.get(f"{page}.json").json()
    assert (view["mistakes_count"], view["corrected_count"]) == (1, 0)


def test_what_a_merged_cell_says_outlives_the_row_in_which_it_stands(client: TestClient) -> None:
    workbook = openpyxl.Workbook()
    sheet = workbook.active
    assert sheet is not None
    sheet.title = "Dwellings"
    for row in (("Dwelling", "Core", "Level"), ("1", "A", "G"), ("1", "A", "1"), ("2", "A", None), ("3", "A", None)):
        sheet.append(row)
    sheet["C2"], sheet["C3"] = "1", "1"
    sheet.merge_cells("C3:C5")
    saved = io.BytesIO()
    workbook.save(saved)
    page = _give(client, saved.getvalue(), name="merged.xlsx")
    (row,) = client.get(f"{page}.json").json()["sheets"][0]["rows"]
    client.post(f"{page}/correct", data={row["out_field"]: "yes"})
    view = client.get(f"{page}.json").json()
    assert (view["mistakes_count"], view["counts"]["dwelling"], view["counts"]["level"]) == (0, 3, 1)


def test_what_is_put_aside_is_gone(client: TestClient) -> None:
    page = _give(client, GOOD)
    client.post(f"{page}/drop")
    assert client.get(page).status_code == 404


def test_a_name_that_no_file_can_have_is_refused(client: TestClient, shelf: Path) -> None:
    page = _give(client, GOOD)
    assert client.post(f"{page}/save", data={"name": "../up"}).status_code == 422
    assert client.post(f"{page}/save", data={"name": "medium"}).status_code == 422
    assert _books(shelf) == {"medium.book"}


@pytest.mark.parametrize(
    ("name", "content"), [("picture.png", b"\x89PNG"), ("empty.xlsx", b""), ("..", b"PK\x03\x04no")]
)
def test_what_is_no_workbook_is_refused_with_a_remedy(client: TestClient, name: str, content: bytes) -> None:
    answer = client.post("/intake", files={"workbook": (name, content)}, headers={"Accept": "application/json"})
    assert answer.status_code == 422
    assert answer.json()["remedy"]


def test_no_file_at_all_is_refused(client: TestClient) -> None:
    assert client.post("/intake", data={"name": "x"}).status_code == 422


def test_text_files_go_together_as_the_sheets_of_one_workbook(client: TestClient) -> None:
    files = [
        ("workbook", ("Dwellings.csv", GOOD)),
        ("workbook", ("Entrances.csv", b"Name,Serves\nFront,all\n")),
    ]
    page = client.post("/intake", files=files, follow_redirects=False).headers["location"]
    assert client.get(f"{page}.json").json()["counts"]["entrance"] == 1


def test_an_import_shows_first_what_changes_and_then_saves_it(client: TestClient) -> None:
    page = _give(client, b"Dwelling,Core,Level,Unit type\n99,Stair A,1,uru-video\n", "/books/medium/import")
    view = client.get(f"{page}.json").json()
    added = {one["kind"]: one["added_count"] for one in view["tallies"]}
    assert added["dwelling"] == 1
    assert any("99" in story for story in view["stories"])
    assert client.get("/books/medium.json").json()["revision"] == 2
    client.post(f"{page}/save", data={"parent": "2"})
    after = client.get("/books/medium.json").json()
    assert (after["revision"], after["counts"]["dwelling"]) == (3, 65)  # the example has 64


def test_an_import_that_says_nothing_new_offers_nothing_to_save(client: TestClient, shelf: Path) -> None:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        exported = workbook_bytes(book.site(), title="Tallow Yard")
    page = _give(client, exported, "/books/medium/import", name="out.xlsx", remove_missing="yes")
    assert client.get(f"{page}.json").json()["tallies"] == []
    assert "the book says all of it already" in client.get(page).text


def test_an_import_is_read_anew_where_somebody_saved_meanwhile(client: TestClient) -> None:
    first = _give(client, b"Dwelling,Core,Level,Unit type\n98,Stair A,1,uru-video\n", "/books/medium/import")
    second = _give(client, b"Dwelling,Core,Level,Unit type\n99,Stair A,1,uru-video\n", "/books/medium/import")
    client.post(f"{first}/save", data={"parent": "2"})
    client.post(f"{second}/save", data={"parent": "2"})
    assert client.get("/books/medium.json").json()["revision"] == 3, "not saved unseen"
    client.post(f"{second}/save", data={"parent": "3"})
    assert client.get("/books/medium.json").json()["counts"]["dwelling"] == 66


def test_what_is_missing_is_removed_only_where_that_is_asked(client: TestClient) -> None:
    keys = b"Unit,Module,Slot,Dwelling\nPanel A,0,1,1\n"
    kept = client.get(f"{_give(client, keys, '/books/medium/import', name='Keys.csv')}.json").json()
    assert not any(one["removed_count"] for one in kept["tallies"])
    page = _give(client, keys, "/books/medium/import", name="Keys.csv", remove_missing="yes")
    removed = {one["kind"]: one["removed_count"] for one in client.get(f"{page}.json").json()["tallies"]}
    assert removed["key"] > 0


def test_a_long_workbook_is_read_in_a_job(client: TestClient) -> None:
    rows = "".join(f"{i},A,{i // 50},uru-video,a,b,c,d,e,f\n" for i in range(2_200))
    head = "Dwelling,Core,Level,Unit type,m,n,o,p,q,r\n"
    answer = client.post("/intake", files={"workbook": ("big.csv", (head + rows).encode())}, follow_redirects=False)
    assert answer.headers["location"].startswith("/jobs/")  # 22 000 cells, above the bound of 20 000


def test_the_template_reads_as_a_workbook(client: TestClient) -> None:
    answer = client.get("/template.xlsx")
    assert answer.content.startswith(b"PK")
    name, sheets = sheets_in([("t.xlsx", answer.content)])
    assert name == "t.xlsx"
    assert "Dwellings" in {sheet.name for sheet in sheets}


def test_a_workbook_whose_name_has_folders_is_known_by_its_own_name() -> None:
    assert sheets_in([("C:\\survey\\yard.csv", GOOD)])[0] == "yard.csv"


def test_two_workbooks_at_once_are_refused(client: TestClient) -> None:
    content = example_workbook().read_bytes()
    files = [("workbook", ("a.xlsx", io.BytesIO(content))), ("workbook", ("b.csv", io.BytesIO(GOOD)))]
    assert client.post("/intake", files=files).status_code == 422


# the store


def _begin(intakes: Intakes, by: str) -> Intake:
    grid = Grid("Dwellings", [["Dwelling"], ["1"]])
    return intakes.begin(by, workbook="w.csv", sheets=[grid], book=None, name="w", remove_missing=False)


def test_a_workbook_is_kept_for_its_giver_alone_and_for_an_hour() -> None:
    time = [NOON]
    intakes = Intakes(lambda: time[0])
    intake = _begin(intakes, "Ada")
    assert intakes.find(intake.id, "Ada") == intake
    assert intakes.find(intake.id, "Bob") is None
    time[0] = NOON + KEPT_FOR + timedelta(seconds=1)
    assert intakes.find(intake.id, "Ada") is None


def test_of_one_person_only_the_latest_are_kept() -> None:
    time = [NOON]
    intakes = Intakes(lambda: time[0])
    given = []
    for _ in range(KEPT_COUNT + 1):
        given.append(_begin(intakes, "Ada"))
        time[0] += timedelta(minutes=1)
    assert intakes.find(given[0].id, "Ada") is None
    assert all(intakes.find(one.id, "Ada") for one in given[1:])


def test_a_cell_that_says_the_same_is_no_correction() -> None:
    intake = _begin(Intakes(lambda: NOON), "Ada")
    assert corrected(intake, {(0, 1, 0): "1"}) is intake
    other = corrected(intake, {(0, 1, 0): "2", (9, 0, 0): "of a sheet that is not there"})
    assert other.corrected_count == 1
    assert intake.sheets[0].rows[1] == ["1"]
