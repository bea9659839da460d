"""The page of findings: groups, filters, waivers, missing facts filled in, the secrets judged."""

from pathlib import Path

import pytest
from starlette.testclient import TestClient

from doorwright.app.check_book import check_book
from doorwright.app.demo import PASSPHRASE
from doorwright.app.means import Means
from doorwright.store.book import Book
from tests.unit.web.following import done, made

CHECK = "/books/medium/check"
LOCK = "lock-voltage-too-low"


def test_it_says_what_the_command_says(client: TestClient, shelf: Path, means: Means) -> None:
    view = made(client, f"{CHECK}.json")
    assessment = check_book(shelf / "medium.book", means).assessment
    assert view["summary"] == (
        f"Checked {assessment.judged_count}, failed {len(assessment.findings)}, waived 0, "
        f"could not check {len(assessment.not_checked)}."
    )
    shown = [(group["key"], row["message"]) for group in view["groups"] for row in group["findings"]["rows"]]
    assert shown == [(finding.rule, finding.message) for finding in assessment.findings]
    assert all(group["why"] and group["remedy"] and group["sources"] for group in view["groups"])
    assert [gap["missing"] for gap in view["gaps"]] == [
        {"kind": missing.kind, "field": missing.field} for missing in assessment.by_missing()
    ]
    assert view["summary"] in client.get(CHECK).text


def test_filters_leave_out_what_does_not_fit(client: TestClient) -> None:
    everything = made(client, f"{CHECK}.json")
    errors = made(client, f"{CHECK}.json?severity=error")
    assert errors["found_count"] == everything["by_severity"]["error"]
    assert {group["severity"] for group in errors["groups"]} == {"error"}
    assert [group["key"] for group in made(client, f"{CHECK}.json?rule={LOCK}")["groups"]] == [LOCK]
    found = made(client, f"{CHECK}.json?for=cYcLe")
    assert all("cycle" in row["message"].casefold() for group in found["groups"] for row in group["findings"]["rows"])
    assert 0 < found["found_count"] < everything["found_count"]
    phases = [group["phases"] for group in made(client, f"{CHECK}.json?phase=handover")["groups"]]
    assert phases
    assert all("handover" in phase for phase in phases)
    nothing = made(client, f"{CHECK}.json?for=nothing-says-this")
    assert (nothing["groups"], nothing["found_count"]) == ([], 0)


def test_findings_stand_by_place_too(client: TestClient) -> None:
    view = made(client, f"{CHECK}.json?by=place")
    places = {group["title"]: group["findings"]["rows"] for group in view["groups"]}
    assert "Cycle store" in places["Entrance C"][0]["message"]
    assert sum(len(rows) for rows in places.values()) == view["found_count"]
    assert view["next_places"] is None  # the few places of the medium example stand on one page
    alone = made(client, f"{CHECK}.json?by=place&place=Entrance%20C")
    assert [group["title"] for group in alone["groups"]] == ["Entrance C"]


def test_a_finding_is_accepted_for_a_while_and_told_again_when_that_is_ended(client: TestClient) -> None:
    finding = made(client, f"{CHECK}.json?rule={LOCK}")["groups"][0]["findings"]["rows"][0]
    form = client.get(finding["accept"])
    assert finding["message"] in form.text
    subjects = client.get(finding["accept"], headers={"Accept": "application/json"}).json()["subjects"]
    given = {"rule": LOCK, "part": subjects, "reason": "measured, it holds", "until": "2027-01-31"}
    answer = client.post(f"{CHECK}/accept", data=given)
    assert f"Accepted until 2027-01-31: {finding['message']}" in answer.text.replace("&#39;", "'")
    after = made(client, f"{CHECK}.json")
    assert [(one["rule"], one["reason"], one["by"]) for one in after["waived"]] == [
        (LOCK, "measured, it holds", "Ada Planner")
    ]
    assert client.post(f"{CHECK}/accept", data=given).status_code == 404
    ended = client.post(f"{CHECK}/end", data={"id": after["waived"][0]["id"]})
    assert ended.status_code == 200
    again = made(client, f"{CHECK}.json")
    assert again["waived"] == []
    assert again["waivers"]["rows"][0]["ended"]["by"] == "Ada Planner"


@pytest.mark.parametrize(
    ("reason", "until", "told"),
    [
        ("", "2027-01-31", "a waiver needs a reason"),
        ("so", "2026-11-24", "this day has passed"),
        ("so", "soon", "no day"),
    ],
)
def test_a_waiver_without_reason_or_day_is_refused(client: TestClient, reason: str, until: str, told: str) -> None:
    accept = made(client, f"{CHECK}.json?rule={LOCK}")["groups"][0]["findings"]["rows"][0]["accept"]
    subjects = client.get(accept, headers={"Accept": "application/json"}).json()["subjects"]
    given = {"rule": LOCK, "part": subjects, "reason": reason, "until": until}
    answer = client.post(f"{CHECK}/accept", data=given)
    assert answer.status_code == 422
    assert told in answer.text
    assert made(client, f"{CHECK}.json")["waived"] == []


def test_what_is_missing_is_filled_in_as_the_workbook_reads_it(client: TestClient, shelf: Path) -> None:
    asked = {"kind": "cable run", "field": "length"}
    view = client.get(f"{CHECK}/missing.json", params=asked).json()
    names = [blank["name"] for blank in view["blanks"]["rows"]]
    assert names == ["C010", "C059", "C076"]  # the three runs without a length in examples/medium
    first, second, third = (blank["id"] for blank in view["blanks"]["rows"])
    wrong = client.post(f"{CHECK}/missing", data={**asked, f"cell:{first}": "far", f"cell:{second}": "20"})
    assert wrong.status_code == 422
    assert "this is no number" in wrong.text
    assert client.get("/books/medium.json").status_code == 200
    client.post(f"{CHECK}/missing", data={**asked, f"cell:{first}": "30 ft"})
    with Book.open(shelf / "medium.book", read_only=True) as book:
        lengths = {run.name: run.length_m for run in book.site().runs}
    assert lengths["C010"] == 9.144  # 30 ft of 0.3048 m each
    assert lengths["C059"] is None
    client.post(f"{CHECK}/missing", data={**asked, "for_all": "yes", "all": "25", f"cell:{third}": "31.5"})
    with Book.open(shelf / "medium.book", read_only=True) as book:
        lengths = {run.name: run.length_m for run in book.site().runs}
    assert (lengths["C059"], lengths["C076"]) == (25.0, 31.5)
    assert client.get(f"{CHECK}/missing", params=asked).status_code == 404


def test_nothing_filled_in_is_refused(client: TestClient) -> None:
    answer = client.post(f"{CHECK}/missing", data={"kind": "unit", "field": "height"})
    assert answer.status_code == 422
    assert "no field was filled in" in answer.text
    vault = client.post(
        f"{CHECK}/missing", data={"kind": "vault", "field": "passphrase", "all": PASSPHRASE, "for_all": "yes"}
    )
    assert vault.status_code == 422
    assert "is not entered here" in vault.text


def test_the_secrets_are_judged_with_the_passphrase_and_none_is_shown(client: TestClient, shelf: Path) -> None:
    assert client.post(f"{CHECK}/secrets", data={}).status_code == 422
    refused = done(client, f"{CHECK}/secrets", passphrase=PASSPHRASE.upper())
    assert refused["state"] == "refused"
    ended = done(client, f"{CHECK}/secrets", passphrase=PASSPHRASE)
    page = client.get(ended["gave"]["to"])
    view = client.get(ended["gave"]["to"], headers={"Accept": "application/json"}).json()
    assert "with the secrets" in page.text
    assert "vault" not in {gap["missing"]["kind"] for gap in view["gaps"]}
    with Book.open(shelf / "medium.book", read_only=True) as book:
        sealed = book.vault()
        assert sealed is not None
        opened = sealed.unlock(PASSPHRASE)
        texts = [opened.reveal(ident, secret) for ident, secret in book.sealed().items()]
    assert not [text for text in texts if text in page.text]
    assert client.get(f"{CHECK}?with=unknown").status_code == 404
