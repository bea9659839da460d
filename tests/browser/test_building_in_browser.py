"""The drawing in a real browser: enlarged, walked through by keyboard, sheets beside it; a workbook mended."""

from pathlib import Path

from playwright.sync_api import Page, expect

from doorwright.store.book import Book
from tests.browser import axe


def _view(page: Page) -> list[float]:
    """Return the part of the drawing that is seen: left, top, width, height."""
    text = page.locator(".drawing > svg").get_attribute("viewBox")
    assert text
    return [float(number) for number in text.split()]


def test_a_part_opens_beside_the_drawing_and_back_leads_back(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    page.locator('.home:has-text("22")').first.click()
    expect(page.locator("#beside h1")).to_have_text("dwelling 22")
    assert "/parts/" in page.url
    expect(page.locator(".house a[aria-current]")).to_have_count(1)
    expect(page.locator("#beside")).to_contain_text("new from")  # its history came too
    first = page.url
    page.locator("#beside .related a").first.click()
    expect(page.locator("h1").first).not_to_have_text("dwelling 22")
    page.go_back()
    expect(page).to_have_url(first)
    expect(page.locator("#beside h1")).to_have_text("dwelling 22")


def test_the_drawing_is_walked_through_by_keyboard(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    expect(page.locator('.drawing [data-part][tabindex="0"]')).to_have_count(1)
    home = page.locator('.home:has(text:text-is("19"))')
    home.focus()
    page.keyboard.press("ArrowRight")
    expect(page.locator(".house a:focus text").first).to_have_text("20")
    page.keyboard.press("ArrowUp")
    expect(page.locator(".house a:focus text").first).to_have_text("23")
    expect(page.locator('.drawing [data-part][tabindex="0"]')).to_have_count(1)
    page.keyboard.press("Enter")
    expect(page.locator("#beside h1")).to_have_text("dwelling 23")


def test_the_drawing_is_enlarged_moved_and_fitted(page: Page, address: str) -> None:
    page.goto(f"{address}/books/medium")
    whole = _view(page)
    page.get_by_role("button", name="Enlarge").click()
    closer = _view(page)
    assert closer[2] < whole[2]
    box = page.locator(".drawing").bounding_box()
    assert box
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    page.mouse.wheel(0, -200)
    assert _view(page)[2] < closer[2]
    before = _view(page)
    page.mouse.down()
    page.mouse.move(middle[0] - 60, middle[1], steps=4)
    page.mouse.up()
    assert _view(page)[0] > before[0]
    assert "/parts/" not in page.url, "a drag chooses nothing"
    page.get_by_role("button", name="Fit").click()
    assert _view(page) == whole


def test_marks_follow_what_the_rules_find(page: Page, address: str, shelf: Path) -> None:
    page.goto(f"{address}/books/medium")
    expect(page.locator('.house a[data-worst="warning"]').first).to_be_attached()
    page.get_by_role("button", name="Enlarge").click()
    seen = _view(page)
    with Book.open(shelf / "medium.book", read_only=True) as book:
        dwelling = next(one for one in book.site().dwellings if one.door_label == "20")
    other = page.context.new_page()
    other.goto(f"{address}/books/medium/import")
    content = f"Id,Dwelling,Core,Level,Call number\n{dwelling.id},20,Stair A,6,21\n".encode()
    other.set_input_files("input[type=file]", {"name": "Dwellings.csv", "mimeType": "text/csv", "buffer": content})
    other.get_by_role("button", name="Read it").click()
    other.get_by_role("button", name="Save as revision").click()
    # two homes now have call number 21 of the same entrance: the open page marks them without being loaded again
    expect(page.locator(f'.house a[data-part="dwelling:{dwelling.id}"] .mark')).to_have_count(1)
    assert _view(page) == seen, "what was looked at stays in view"


def test_on_a_phone_the_sheet_comes_as_a_page_with_the_sheet_above(page: Page, address: str) -> None:
    page.set_viewport_size({"width": 390, "height": 844})
    page.goto(f"{address}/books/medium")
    page.locator('.home:has(text:text-is("1"))').click()
    page.wait_for_url("**/parts/**")
    sheet, drawing = page.locator("#beside").bounding_box(), page.locator("#house").bounding_box()
    assert sheet
    assert drawing
    assert sheet["y"] < drawing["y"]
    assert page.evaluate("document.documentElement.scrollWidth") <= 390


def test_a_dropped_workbook_is_mended_in_its_cells_and_becomes_a_book(page: Page, address: str) -> None:
    page.goto(address)
    page.evaluate(
        """() => {
            const carried = new DataTransfer();
            carried.items.add(new File(["Dwelling,Core,Level,Unit type\\n1,A,,uru-video\\n"], "row.csv"));
            const how = { dataTransfer: carried, bubbles: true, cancelable: true };
            document.body.dispatchEvent(new DragEvent("drop", how));
        }"""
    )
    cell = page.get_by_label("Level, row 2")
    expect(cell).to_be_focused()
    assert axe.faults(page) == []
    cell.fill("Ground")
    page.get_by_role("button", name="Read again").click()
    expect(page.locator(".note.fine")).to_contain_text("reads without mistakes")
    assert axe.faults(page) == []
    page.get_by_role("button", name="Make the book").click()
    expect(page).to_have_url(f"{address}/books/row")
    expect(page.locator(".house .home")).to_have_count(1)


def test_axe_finds_nothing_on_a_sheet_the_hits_and_the_import(page: Page, address: str, shelf: Path) -> None:
    with Book.open(shelf / "medium.book", read_only=True) as book:
        site = book.site()
    vcu = next(unit for unit in site.units if unit.entrance is not None)
    for where in (f"parts/{vcu.id}", f"parts/{site.dwellings[0].id}", "seek?for=panel", "import"):
        for light in ("light", "dark"):
            page.emulate_media(color_scheme=light)
            page.goto(f"{address}/books/medium/{where}")
            assert axe.faults(page) == [], where
