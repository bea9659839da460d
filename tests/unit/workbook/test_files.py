"""Files of every kind: spreadsheet formats, text in its encodings, and what cannot be read at all."""

import struct
import zipfile
from pathlib import Path

import openpyxl
import pytest
from odf.opendocument import OpenDocumentSpreadsheet
from odf.table import Table, TableCell, TableRow
from odf.text import P

from doorwright.kernel.errors import Refused
from tests.unit.workbook.shelf import read, told

HOMES = "Dwelling;Core;Level;Legend\n12;Süd;EG;Ägypten\n007;Süd;1. OG;\n"


@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "cp1252", "utf-16", "utf-16-le", "utf-16-be"])
@pytest.mark.parametrize("separator", [";", ",", "\t"])
def test_text_in_every_usual_encoding(tmp_path: Path, encoding: str, separator: str) -> None:
    path = tmp_path / "Dwellings.csv"
    path.write_bytes(HOMES.replace(";", separator).replace("\n", "\r\n").encode(encoding))
    site = read(path).site
    assert [(dwelling.door_label, dwelling.legend) for dwelling in site.dwellings] == [("12", "Ägypten"), ("007", None)]
    assert [core.name for core in site.cores] == ["Süd"]
    assert [(level.name, level.order) for level in site.levels] == [("EG", 0), ("1. OG", 1)]


def test_text_that_names_its_separator(tmp_path: Path) -> None:
    path = tmp_path / "homes.csv"
    path.write_text('sep=,\nFlat,Floor\n"1","0"\n')
    reading = read(path)
    assert told(reading) == []
    assert [dwelling.door_label for dwelling in reading.site.dwellings] == ["1"]


def test_a_folder_of_text_files(tmp_path: Path) -> None:
    (tmp_path / "Dwellings.csv").write_text("Dwelling,Level\n1-3,0\n")
    (tmp_path / "Entrances.csv").write_text('Name,Serves\nFront,"1; 3"\n')
    reading = read(tmp_path)
    assert told(reading) == []
    served = set(reading.site.entrances[0].serves_dwellings)
    assert [d.door_label for d in reading.site.dwellings if d.id in served] == ["1", "3"]


def test_numbers_in_text_keep_their_zeros_and_mistakes_their_rows(tmp_path: Path) -> None:
    (tmp_path / "Dwellings.csv").write_text("Our list\n\nDwelling,Level,MAC\n01,0,\n\n02,0,zz\n")
    (mistake,) = read(tmp_path).mistakes
    assert mistake.where == 'sheet "Dwellings", row 6, column C "MAC"'


def test_an_open_document(tmp_path: Path) -> None:
    document = OpenDocumentSpreadsheet()
    table = Table(name="Apartments")
    rows: list[list[str | float]] = [["Apartment", "Stairs", "Storey"], [12.0, "A", "2"], ["013", "A", "#REF!"]]
    for cells in rows:
        row = TableRow()
        for cell in cells:
            made = (
                TableCell(valuetype="float", value=str(cell))
                if isinstance(cell, float)
                else TableCell(valuetype="string")
            )
            made.addElement(P(text=str(cell)))
            row.addElement(made)
        table.addElement(row)
    document.spreadsheet.addElement(table)
    path = tmp_path / "homes.ods"
    document.save(str(path))
    (mistake,) = read(path).mistakes
    assert mistake.where == 'sheet "Apartments", row 3, column C "Storey"'
    assert mistake.problem == "the formula in this cell gives the error #REF!"


def test_the_name_of_the_file_does_not_decide_what_it_is(tmp_path: Path) -> None:
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for row in [["Flat", "Floor"], ["1", "G"]]:
        sheet.append(row)
    path = tmp_path / "homes.xls"
    book.save(path)
    reading = read(path)
    assert [dwelling.door_label for dwelling in reading.site.dwellings] == ["1"]
    assert 'read as the sheet "Dwellings", by its headings' in [remark.change for remark in reading.remarks]


def encrypted_workbook() -> bytes:
    """Return the first sectors of a compound file as a spreadsheet program writes it for a protected workbook.

    Header and directory entries as in [MS-CFB] 2.2 and 2.6.1 (from memory); the streams are those of [MS-OFFCRYPTO].
    """
    header = b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(16) + struct.pack("<HHHHH", 0x3E, 3, 0xFFFE, 9, 6)
    header += bytes(6) + struct.pack("<IIIIIIIII", 0, 1, 1, 0, 4096, 0xFFFFFFFE, 0, 0xFFFFFFFE, 0)
    header += struct.pack("<I", 0) + b"\xff" * (512 - len(header) - 4)
    table = struct.pack("<II", 0xFFFFFFFD, 0xFFFFFFFE) + b"\xff" * 504
    directory = b""
    for name, kind in (("Root Entry", 5), ("EncryptionInfo", 2), ("EncryptedPackage", 2)):
        text = name.encode("utf-16-le") + b"\0\0"
        directory += text.ljust(64, b"\0") + struct.pack("<HBB", len(text), kind, 1) + b"\xff" * 12 + bytes(48)
    return header + table + directory.ljust(512, b"\0")


REFUSALS = {
    "nothing.xlsx": (b"", "is empty"),
    "letter.xlsx": (b"Dear Sir or Madam", "is not a workbook"),
    "cut.xlsx": (b"PK\x03\x04" + b"x" * 200, "is damaged"),
    "old.xls": (b"\xd0\xcf\x11\xe0\xa1\xb1\x1a\xe1" + bytes(600), "is damaged"),
    "locked.xlsx": (encrypted_workbook(), "is protected by a password"),
    "blank.csv": (b"\n,,\n", "no sheet has a filled cell"),
}


@pytest.mark.parametrize("name", REFUSALS)
def test_what_cannot_be_read_is_refused_with_a_remedy(tmp_path: Path, name: str) -> None:
    content, message = REFUSALS[name]
    (tmp_path / name).write_bytes(content)
    if name == "blank.csv":
        (tmp_path / name).write_bytes(b"\n\n")
    with pytest.raises(Refused, match=message) as refused:
        read(tmp_path / name)
    assert name in refused.value.message
    assert refused.value.remedy


def test_a_workbook_without_content_and_a_folder_without_lists(tmp_path: Path) -> None:
    openpyxl.Workbook().save(tmp_path / "empty.xlsx")
    with pytest.raises(Refused, match="no sheet has a filled cell"):
        read(tmp_path / "empty.xlsx")
    (tmp_path / "folder").mkdir()
    (tmp_path / "folder" / "photo.jpg").write_bytes(b"x")
    with pytest.raises(Refused, match=r"holds no \.csv file"):
        read(tmp_path / "folder")
    with pytest.raises(Refused, match="cannot be read"):
        read(tmp_path / "nowhere.xlsx")


def test_an_archive_that_is_no_workbook_and_one_cut_short(tmp_path: Path) -> None:
    with zipfile.ZipFile(tmp_path / "pictures.xlsx", "w") as archive:
        archive.writestr("picture.png", b"x")
    with pytest.raises(Refused, match="is damaged or not a workbook"):
        read(tmp_path / "pictures.xlsx")
    book = openpyxl.Workbook()
    sheet = book.active
    assert sheet is not None
    for number in range(200):
        sheet.append([f"home {number}", "x" * 50])
    book.save(tmp_path / "whole.xlsx")
    content = (tmp_path / "whole.xlsx").read_bytes()
    (tmp_path / "half.xlsx").write_bytes(content[: len(content) // 2])
    with pytest.raises(Refused, match="is damaged"):
        read(tmp_path / "half.xlsx")
    with zipfile.ZipFile(tmp_path / "locked.ods", "w") as archive:
        archive.writestr("mimetype", "application/vnd.oasis.opendocument.spreadsheet")
        archive.writestr("META-INF/manifest.xml", '<manifest:encryption-data checksum="x"/>')
    with pytest.raises(Refused, match="is protected by a password"):
        read(tmp_path / "locked.ods")
