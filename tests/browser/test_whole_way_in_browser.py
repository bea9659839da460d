"""The whole way in the browser: a workbook kept in a hurry becomes a book, a plan, a checked pack, and ticked work."""

import base64
import io
from pathlib import Path

import openpyxl
from playwright.sync_api import Download, Page, expect
from pypdf import PdfReader

from doorwright.app.demo import PASSPHRASE, example_workbook
from doorwright.store.book import Book

REASON = "The fire officer of the works agreed on site."
PACK_MS = 120_000
"""Eighty sheets of paper, on a machine that does other work too."""


def _messy_workbook() -> bytes:
    """The medium example with what people do to workbooks: each fault below is one that the page must show."""
    workbook = openpyxl.load_workbook(example_workbook())
    flats, receivers = workbook["Flats"], workbook["Receivers"]
    flats["B8"] = "Grund"  # a level misspelt, in a cell that is merged over three flats
    flats["C11"] = flats["C10"].value  # a flat twice, so that flat 7 is nowhere
    flats["F12"] = "soon"  # a ring time
    receivers["F6"] = "00-00-5E-00-53"  # a MAC address cut short
    receivers["F9"] = "00-00-5E-00-53-ZZ"  # one with letters that are no digits
    workbook["Panels"].delete_cols(5)  # no serial numbers
    workbook["Cable schedule"]["C12"] = "Panel Q"  # an end that is not there
    workbook.create_sheet("Notes")["A1"] = "ask about the gate"
    saved = io.BytesIO()
    workbook.save(saved)
    return saved.getvalue()


def _drop(page: Page, name: str, content: bytes) -> None:
    page.evaluate(
        """([name, content]) => {
            const bytes = Uint8Array.from(atob(content), (letter) => letter.charCodeAt(0));
            const data = new DataTransfer();
            data.items.add(new File([bytes], name));
            for (const type of ["dragenter", "dragover", "drop"])
                document.body.dispatchEvent(
                    new DragEvent(type, { dataTransfer: data, bubbles: true, cancelable: true }));
        }""",
        [name, base64.b64encode(content).decode()],
    )


def test_from_a_messy_workbook_to_a_pack_and_ticked_work(page: Page, address: str, shelf: Path) -> None:
    page.goto(address)
    _drop(page, "messy.xlsx", _messy_workbook())
    _correct_what_is_wrong(page)
    page.get_by_label("Name of the book").fill("tallow")
    page.get_by_role("button", name="Make the book").click()
    _make_the_vault_and_plan(page)
    _accept_every_error(page)
    _take_the_pack(page, shelf)
    _tick_the_first_task(page)
    with Book.open(shelf / "tallow.book", read_only=True) as book:
        site = book.site()
        # of the example: 64 flats, of which none was lost by the corrections
        assert len(site.dwellings) == 64
        assert {dwelling.door_label for dwelling in site.dwellings} == {str(number) for number in range(1, 65)}
        assert [waiver.reason for waiver in book.waivers()] == [REASON] * len(book.waivers())
        assert [record.deed.value for record in book.work().records] == ["done"]


def _correct_what_is_wrong(page: Page) -> None:
    note = page.locator(".note").first
    expect(note).to_contain_text("Nothing is saved yet")
    # the merged level stands in three rows; the flat that is there twice is seen when its level is right
    expect(page.locator(".mended [aria-invalid=true]")).to_have_count(8)
    page.get_by_label("Floor, row 8").fill("1")
    page.get_by_label("Ring time (s), row 12").fill("20")
    page.get_by_label("MAC address, row 6").fill("")
    page.get_by_label("MAC address, row 9").fill("")
    page.get_by_label("To, row 12").fill("Panel A")
    page.get_by_role("button", name="Read again").click()
    expect(note).to_contain_text("5 cells were corrected")
    expect(page.locator(".wrong").first).to_contain_text("this dwelling stands in row 10 already")
    page.get_by_label("Flat, row 11").first.fill("7")
    page.get_by_role("button", name="Read again").click()
    expect(note).to_contain_text("It reads without mistakes")


def _make_the_vault_and_plan(page: Page) -> None:
    onward = page.locator("#onward")
    expect(onward).to_contain_text("Next: Vault")
    onward.get_by_role("link", name="Set the passphrase").click()
    page.get_by_label("Passphrase", exact=True).fill(PASSPHRASE)
    page.get_by_label("The same again").fill(PASSPHRASE)
    page.get_by_role("button", name="Make the vault").click()
    expect(page.locator("#said")).to_contain_text("The vault is made")
    page.locator("a.site").click()
    expect(onward).to_contain_text("Next: Plan")
    onward.get_by_role("link", name="To the plan").click()
    page.get_by_label("Passphrase of the vault").fill(PASSPHRASE)
    page.get_by_role("button", name="Plan, and save as revision 2").click()
    expect(page.get_by_role("heading", name="Planned", exact=True)).to_be_visible()


def _accept_every_error(page: Page) -> None:
    page.get_by_role("link", name="See what the rules find").click()
    errors = page.locator("section.group:has(h2 .tag.error) li.finding")
    expect(errors.first).to_be_visible()
    for left in range(errors.count() - 1, -1, -1):
        errors.first.get_by_role("link", name="Accept for a while").click()
        page.get_by_label("Why it may stand").fill(REASON)
        page.get_by_role("button", name="Accept", exact=True).click()
        expect(page.locator("#said")).to_contain_text("Accepted until")
        expect(errors).to_have_count(left)
    expect(page.locator(".onward")).to_contain_text("Next: Papers")


def _take_the_pack(page: Page, shelf: Path) -> None:
    page.get_by_role("link", name="To the papers").click()
    page.get_by_role("button", name="Make the pack").click()
    take = page.get_by_role("link", name="Download the PDF")
    expect(take).to_be_visible(timeout=PACK_MS)
    with page.expect_download() as waited:
        take.click()
    given: Download = waited.value
    assert given.suggested_filename == "tallow-revision-2-site-pack.pdf"
    path = shelf.parent / "pack.pdf"
    given.save_as(path)
    first = PdfReader(path).pages[0].extract_text()
    assert "Tallow Yard" in first  # what the workbook's sheet "Site" calls the project
    assert PASSPHRASE not in first


def _tick_the_first_task(page: Page) -> None:
    page.get_by_role("link", name="To the run sheet").click()
    page.get_by_role("button", name="Done: task 1", exact=True).click()
    expect(page.locator("#task-1")).to_have_attribute("data-done", "yes")
    expect(page.locator("#task-1 .record")).to_contain_text("Ada Planner")
    page.locator("a.site").click()
    expect(page.locator("#onward")).to_contain_text("left to do")
