"""The pages of help: everything has one, the find box finds it, and the way back to the book is kept."""

import re
from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.calculate import explained
from doorwright.calc.catalogue import areas, calculation_by_id
from doorwright.model.glossary import ON_PAPER, WORD_BY_KEY, WORDS
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.store.book import Book
from doorwright.store.workbook.columns import SETTINGS, SHEETS
from doorwright.studies.annex import all_studies
from doorwright.web.showing import templates
from doorwright.web.tour import STOPS
from doorwright.web.ways import PHASES


def titles(client: TestClient, sought: str) -> list[str]:
    return [one["title"] for one in client.get("/help.json", params={"for": sought}).json()["found"]]


def addresses(text: str) -> set[str]:
    return {one.replace("&amp;", "&") for one in re.findall(r'href="(/help[^"]*)"', text)}


def test_every_page_of_help_is_reached_from_the_first_one_and_answers(client: TestClient) -> None:
    seen: set[str] = set()
    waiting = {"/help?book=medium"}
    while waiting:
        address = waiting.pop()
        seen.add(address)
        page = client.get(address)
        assert page.status_code == 200, address
        assert "Back to Tallow Yard" in page.text, address
        found = {one for one in addresses(page.text) if one != "/help"}
        assert all("book=medium" in one for one in found), address
        if "/rules/" not in address and "/calculations/" not in address:
            waiting |= {one for one in found if "for=" not in one} - seen
    assert {one.id for one in RULES} <= {one.split("/")[3].split("?")[0] for one in seen if "/rules/" in one}
    assert set(calculation_by_id()) <= {one.split("/")[3].split("?")[0] for one in seen if "/calculations/" in one}
    assert sum("/columns/" in one for one in seen) == len(SHEETS) + 1


def test_a_rules_page_says_what_its_docstring_says_and_what_it_finds_here(client: TestClient) -> None:
    client.get("/books/medium/check")  # has the rules look
    client.app.state.shelf.open("medium").judge_now()  # type: ignore[attr-defined]
    told = client.get("/help/rules/lock-voltage-too-low.json?book=medium").json()
    assert told["title"] == "A lock gets less voltage than its maker asks for."
    assert told["severity"] == "error"
    assert told["finds"] == "The run to the main door is 800 m long."
    assert {one["held"] for one in told["sources"]} >= {"second-hand"}
    # the cycle store's lock, at the end of 58 m of thin cable, as the tutorial tells
    assert (told["found_count"], told["findings"]) == (1, "/books/medium/check?rule=lock-voltage-too-low")
    page = client.get("/help/rules/lock-voltage-too-low?book=medium").text
    assert "1 finding in Tallow Yard" in page
    assert "held: second-hand" in page


def test_without_a_book_a_rules_page_leads_to_no_findings(client: TestClient) -> None:
    told = client.get("/help/rules/lock-voltage-too-low.json").json()
    assert (told["back"], told["found_count"], told["findings"]) == (None, None, "")


def test_a_book_that_is_not_there_takes_nothing_from_help(client: TestClient) -> None:
    page = client.get("/help?book=..%2Ftower")
    assert page.status_code == 200
    assert "Back to" not in page.text


def test_a_calculations_page_has_formula_validity_inputs_and_source(client: TestClient) -> None:
    told = client.get("/help/calculations/drain_a.json").json()["told"]
    assert told["paragraphs"][0]["text"].startswith("The rate at which")
    assert [one["lead"] for one in told["paragraphs"][1:]] == ["Formula", "Valid when"]
    assert {"name": "rate_h", "unit": "hour (h)"}.items() <= told["inputs"][1].items()


def test_every_calculation_says_what_it_gives_and_its_formula(client: TestClient) -> None:
    for one in calculation_by_id():
        told = client.get(f"/help/calculations/{one}.json").json()
        leads = [paragraph["lead"] for paragraph in told["told"]["paragraphs"]]
        assert leads[0] == "", one
        assert "Formula" in leads, one
        assert told["sources"], one


@pytest.mark.parametrize(
    ("sought", "first"),
    [
        ("VCU", "VCU, visitor call unit"),
        ("address-used-twice", "address-used-twice"),
        ("address used twice", "address-used-twice"),
        ("Voltage TOO low", "lock-voltage-too-low"),
        ("registrar", "registrar"),
        ("fill down", "Ctrl+D: In a table"),
        ("mains", "Mains and fixed wiring"),
    ],
)
def test_the_find_box_finds_by_words_in_any_case(client: TestClient, sought: str, first: str) -> None:
    assert titles(client, sought)[0] == first


def test_a_column_is_found_by_what_people_call_it(client: TestClient) -> None:
    assert "Dwellings: Serial" in titles(client, "serial number")
    assert any(one.startswith("Site: ") for one in titles(client, "grade of service"))


def test_a_slip_of_the_finger_is_helped_with_a_word_that_is_found(client: TestClient) -> None:
    told = client.get("/help.json", params={"for": "voltege", "book": "medium"}).json()
    assert (told["found"], [one["title"] for one in told["near"]]) == ([], ["voltage"])
    assert told["near"][0]["address"] == "/help?for=voltage&book=medium"
    assert titles(client, "voltage")


@pytest.mark.parametrize("sought", ["", "   ", "%", "<script>alert(1)</script>", "(((", "x" * 5000, "\x00"])
def test_odd_words_are_looked_for_and_shown_as_text(client: TestClient, sought: str) -> None:
    page = client.get("/help", params={"for": sought})
    assert page.status_code == 200
    assert "<script>alert" not in page.text


@pytest.mark.parametrize("where", ["rules/none", "calculations/none", "words/none", "columns/None", "columns/site"])
def test_what_help_does_not_know_is_not_found(client: TestClient, where: str) -> None:
    assert client.get(f"/help/{where}").status_code == 404
    assert client.get(f"/help/{where}.json").status_code == 404


def test_a_word_says_whose_it_is_and_where_it_matters(client: TestClient) -> None:
    told = client.get("/help/words/vcu.json").json()
    assert told["said"][1] == ["whose word", "IEC 62820-1-1"]
    assert "entrance-without-vcu" in [one["title"] for one in told["groups"][0]["lines"]]


def test_each_word_stands_once_and_those_on_paper_are_what_a_newcomer_needs() -> None:
    assert len(WORD_BY_KEY) == len(WORDS)
    assert [one.written for one in ON_PAPER][:3] == [
        "VCU, visitor call unit", "URU, user receiver unit", "SMU, security management unit",
    ]  # fmt: skip
    assert ON_PAPER[-1].word == "baseline"


def test_each_sheet_shows_every_column(client: TestClient) -> None:
    for sheet in SHEETS:
        (table,) = client.get(f"/help/columns/{sheet.name}.json").json()["tables"]
        assert [row["name"] for row in table[2]] == [column.heading for column in sheet.columns]
    (table,) = client.get("/help/columns/Site.json").json()["tables"]
    assert len(table[2]) == len(SETTINGS)


def test_a_field_of_a_profile_is_found_and_led_to(client: TestClient) -> None:
    found = client.get("/help.json", params={"for": "peukert_exponent"}).json()["found"]
    assert "/help/profiles#peukert_exponent" in [one["address"] for one in found]
    page = client.get("/help/profiles").text
    assert 'id="peukert_exponent"' in page
    assert "<code>length_min_count</code>" in page


def test_the_cautions_name_escape_routes_and_mains(client: TestClient) -> None:
    names = [name for name, _ in client.get("/help/cautions.json").json()["cautions"]]
    assert names[:2] == ["Locks and escape routes", "Mains and fixed wiring"]


def test_areas_of_calculation_have_titles() -> None:
    assert all(area.title and not area.title.endswith(".") for area in areas())


def test_each_stop_of_the_tour_is_a_page_of_the_book(client: TestClient) -> None:
    steps = {way.step for phase in PHASES for way in phase.ways}
    assert {stop.step for stop in STOPS} <= {"", *steps}
    for stop in STOPS:
        page = client.get(f"/books/medium/{stop.step}".rstrip("/"))
        assert page.status_code == 200, stop
        assert 'id="tour"' in page.text
    assert "data-offer" in client.get("/books/medium").text  # it is the demo's site


def test_the_tour_stands_on_pages_of_a_book_alone(client: TestClient) -> None:
    assert 'id="tour"' not in client.get("/help").text


def test_each_finding_is_one_click_from_its_rule(client: TestClient) -> None:
    client.app.state.shelf.open("medium").judge_now()  # type: ignore[attr-defined]
    for by in ("rule", "place"):
        page = client.get("/books/medium/check", params={"by": by}).text
        assert 'href="/help/rules/lock-voltage-too-low?book=medium"' in page


def test_each_working_names_a_calculation_that_has_a_page(planned_book: Path) -> None:
    with Book.open(planned_book, read_only=True) as book:
        studies = all_studies(Walk(book.site()))
    named = {step.calculation for study in studies for step in explained(study)}
    assert named
    assert named <= set(calculation_by_id())


def test_the_small_question_mark_leads_to_help_and_back() -> None:
    helps = templates().from_string('{% from "pieces.html" import helps %}{{ helps("words", "vcu", book="a & b") }}')
    assert 'href="/help/words/vcu?book=a+%26+b"' in helps.render()
    whole = templates().from_string('{% from "pieces.html" import helps %}{{ helps("keyboard", what="keys") }}')
    assert 'href="/help/keyboard"' in whole.render()
    assert "Help: keys" in whole.render()
