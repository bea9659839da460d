"""The same sheets read twice, with a cell corrected between, and the places of mistakes as values."""

import csv
from pathlib import Path

from doorwright.store.workbook import Reading, read_sheets
from doorwright.store.workbook.grid import CellError, Grid, cell_text, read_grids
from tests.unit.workbook.shelf import counter, profiles

ROWS = (
    ("Schedule of flats", "", "", ""),
    ("Dwelling", "Core", "Level", "Unit type"),
    ("1", "A", "", "uru-video"),
    ("2", "A", "Ground", "uru-video"),
    ("3", "A", "1", "nobody's type"),
)


def _grids(tmp_path: Path) -> list[Grid]:
    file = tmp_path / "Dwellings.csv"
    with file.open("w", newline="") as out:
        csv.writer(out).writerows(ROWS)
    return read_grids(file)


def _read(grids: list[Grid]) -> Reading:
    return read_sheets(grids, name="yard", before=None, profiles=profiles(), new_id=counter())


def test_a_mistake_tells_its_sheet_row_and_column_as_values(tmp_path: Path) -> None:
    reading = _read(_grids(tmp_path))
    # rows as a spreadsheet program counts them, from 1; columns from 0: ROWS[2] is row 3, "Level" is its column 2
    assert [(spot.order, spot.sheet, spot.row, spot.column) for spot in reading.spots] == [
        (0, "Dwellings", 3, 2),
        (0, "Dwellings", 5, 3),
    ]
    assert [str(spot) for spot in reading.spots] == [mistake.where for mistake in reading.mistakes]
    assert reading.headed == {0: 2}


def test_corrected_cells_are_read_again(tmp_path: Path) -> None:
    grids = _grids(tmp_path)
    assert len(_read(grids).mistakes) == 2
    grids[0].put(2, 2, "Ground")
    grids[0].put(4, 3, "uru-audio")
    reading = _read(grids)
    assert reading.mistakes == ()
    assert [dwelling.door_label for dwelling in reading.site.dwellings] == ["1", "2", "3"]


def test_reading_leaves_the_sheets_as_they_are(tmp_path: Path) -> None:
    merged = Grid(
        "Dwellings",
        [["Dwelling", "Core", "Level", "Unit type"], ["1", "A", "Ground", "uru-video"], ["2", "", "", "uru-video"]],
        merged=[(1, 1, 2, 1), (1, 2, 2, 2)],
    )
    before = [list(row) for row in merged.rows]
    assert _read([merged]).mistakes == ()
    assert merged.rows == before


def test_a_cell_stands_as_one_would_type_it() -> None:
    assert [cell_text(raw) for raw in ("x", 3.0, 2.5, True, CellError("#REF!"), "")] == [
        "x", "3", "2.5", "yes", "#REF!", "",
    ]  # fmt: skip


def test_a_cell_beyond_what_is_filled_is_empty_and_can_be_put() -> None:
    grid = Grid("Flats", [["a"]])
    assert grid.cell(7, 7) == ""
    grid.put(2, 1, "b")
    assert grid.rows == [["a"], [], ["", "b"]]
