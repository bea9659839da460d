"""The workbook as it is written: pleasant to use, safe to open, the same bytes for the same site."""

from pathlib import Path

import openpyxl
import pytest
from openpyxl.utils.escape import unescape
from openpyxl.worksheet.worksheet import Worksheet

from doorwright.model.part import Part
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level
from doorwright.model.site import Site
from doorwright.store.workbook import template_bytes, workbook_bytes
from doorwright.store.workbook.columns import SHEETS
from tests.unit.workbook.shelf import profiles, read, told

HOSTILE = [
    '=HYPERLINK("http://example.org","prize")', "+1", "-1+1", "@SUM(A1)", "\tx", "\rx", "http://example.org", "=1/0",
]  # fmt: skip


def plain_site(labels: list[str]) -> Site:
    dwellings = tuple(
        Dwelling(id=f"d{n}", door_label=label, core="c", level="l", notes=(("Remark", label),))
        for n, label in enumerate(labels)
    )
    return Site(
        name="Fenwick & Yard",
        buildings=(Building(id="b", name="Main"),),
        cores=(Core(id="c", building="b", name="A"),),
        levels=(Level(id="l", building="b", name="0", order=0),),
        dwellings=dwellings,
        entrances=(Entrance(id="e", name="Front", serves_dwellings=tuple(d.id for d in dwellings)),),
    )


@pytest.fixture
def exported(tmp_path: Path) -> openpyxl.Workbook:
    path = tmp_path / "out.xlsx"
    path.write_bytes(workbook_bytes(plain_site([*HOSTILE, "101"]), title="Schedules, revision 7"))
    return openpyxl.load_workbook(path)


def tables(book: openpyxl.Workbook) -> list[Worksheet]:
    return [book[sheet.name] for sheet in SHEETS]


def test_every_table_has_fixed_headings_filters_and_pages(exported: openpyxl.Workbook) -> None:
    assert exported.sheetnames == ["Read me", "Site", "Holidays", *(sheet.name for sheet in SHEETS)]
    for sheet in tables(exported):
        assert sheet.freeze_panes == "B2"
        assert sheet.auto_filter.ref is not None
        assert sheet.print_title_rows == "$1:$1"
        assert (sheet.page_setup.orientation, int(str(sheet.page_setup.paperSize))) == ("landscape", 9)
        assert sheet.page_setup.fitToHeight == 0
        assert sheet.oddFooter is not None
        assert sheet.oddFooter.left is not None
        assert sheet.oddFooter.left.text == "Schedules, revision 7"
        assert all(cell.comment is not None for cell in sheet[1] if cell.value != "Remark")
        assert all(8 <= sheet.column_dimensions[letter].width <= 60 for letter in ("A", "B"))


def test_no_text_becomes_a_formula_or_a_link(exported: openpyxl.Workbook) -> None:
    for sheet in exported.worksheets:
        for row in sheet.iter_rows():
            assert all(cell.data_type != "f" and cell.hyperlink is None for cell in row)
    labels = [exported["Dwellings"].cell(row, 1).value for row in range(2, 2 + len(HOSTILE))]
    assert [unescape(str(label)) for label in labels] == HOSTILE  # openpyxl leaves control characters escaped


def test_hostile_names_come_back_unchanged(tmp_path: Path) -> None:
    site = plain_site([name for name in HOSTILE if name.strip() == name])
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    for before in (site, None):
        reading = read(tmp_path / "out.xlsx", before)
        assert told(reading) == []
        assert reading.site == site


def test_names_with_stray_white_space_are_kept_beside_the_site_they_came_from(tmp_path: Path) -> None:
    site = plain_site(HOSTILE)
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    assert read(tmp_path / "out.xlsx", site).site == site


def test_equal_sites_give_equal_bytes(tmp_path: Path) -> None:
    for name in ("one.xlsx", "two.xlsx"):
        (tmp_path / name).write_bytes(workbook_bytes(plain_site(["1"]), title="x"))
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()


def test_a_long_list_of_dwellings_served_is_written_as_ranges(tmp_path: Path) -> None:
    site = plain_site([*(f"{n}" for n in range(1, 4001)), *(f"G{n:02d}" for n in range(1, 9)), "x"])
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert book["Entrances"]["C2"].value == "1-4000, G01-G08, x"
    assert read(tmp_path / "out.xlsx").site == site


def test_notes_named_like_a_column_and_notes_in_two_orders_come_back(tmp_path: Path) -> None:
    site = plain_site(["1", "2"])
    notes = ((("Floor", "x"), ("Colour", "red")), (("Colour", "blue"), ("Floor", "y"), ("Note: deep", "z")))
    dwellings: tuple[Part, ...] = tuple(
        Dwelling(id=d.id, door_label=d.door_label, core="c", level="l", notes=n)
        for d, n in zip(site.dwellings, notes, strict=True)
    )
    site = site.with_tables({Dwelling: dwellings})
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    assert read(tmp_path / "out.xlsx").site == site


def test_notes_that_may_be_secrets_are_not_exported_and_not_lost(tmp_path: Path) -> None:
    site = plain_site(["1"])
    dwelling = Dwelling(id="d0", door_label="1", core="c", level="l", notes=(("Password", "hunter"),))
    site = site.with_tables({Dwelling: (dwelling,)})
    (tmp_path / "out.xlsx").write_bytes(workbook_bytes(site, title="x"))
    book = openpyxl.load_workbook(tmp_path / "out.xlsx")
    assert all(cell.value != "hunter" for sheet in book for row in sheet.iter_rows() for cell in row)
    assert read(tmp_path / "out.xlsx", site).site == site


def test_the_template_offers_lists_and_explains_itself(tmp_path: Path) -> None:
    (tmp_path / "template.xlsx").write_bytes(template_bytes(profiles()))
    book = openpyxl.load_workbook(tmp_path / "template.xlsx")
    offered = {}
    for sheet in book.worksheets:
        for validation in sheet.data_validations.dataValidation:
            for cells in validation.sqref.ranges:
                offered[sheet.title, sheet.cell(1, cells.min_col).value] = validation.formula1
    for column in (
        ("Units", "Type"),
        ("Dwellings", "Unit type"),
        ("Doors", "Lock"),
        ("Doors", "Fire door"),
        ("Places", "Kind"),
    ):
        assert column in offered
    lists = book["Lists"]
    assert lists.sheet_state == "hidden"
    listed = {str(cell.value) for row in lists.iter_rows() for cell in row if cell.value}
    assert {"strike", "magnet", "yes", "no", "uru-video", "switch-48", "riser cupboard"} <= listed
    for sheet in book.worksheets[2:-1]:
        assert sheet.max_row == 2, sheet.title
        assert all(cell.comment for cell in sheet[1])


def test_a_template_without_any_unit_types_still_imports(tmp_path: Path) -> None:
    (tmp_path / "template.xlsx").write_bytes(template_bytes({}))
    reading = read(tmp_path / "template.xlsx")
    assert told(reading) == []
    assert [dwelling.door_label for dwelling in reading.site.dwellings] == ["1"]
