"""The run sheet as a page: shown, filtered, recorded with and without a page's program, sent twice, refused."""

import re
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.kernel.person import Role
from doorwright.store.book import Book
from doorwright.web.views import run_sheet
from tests.unit.store.pictures import PLACE, comment, jpeg
from tests.unit.web.conftest import NOON

SHEET = "/books/medium/run-sheet"
JSON = {"Accept": "application/json"}


def sheet(client: TestClient, **asked: str) -> Any:
    return client.get(f"{SHEET}.json", params=asked).json()


def tasks(client: TestClient, **asked: str) -> list[Any]:
    return [task for group in sheet(client, **asked)["groups"] for task in group["tasks"]]


def send(client: TestClient, *, number: int = 1, picture: bytes | None = None, **facts: Any) -> Any:
    there = {
        "id": "phone-a-0001", "task": tasks(client)[number - 1]["key"], "deed": "done", "value": "", "quantity": "",
        "corrects": "", "done_at": "2026-11-25T11:58:00Z", "by": "Ada Planner",
    }  # fmt: skip
    files = {"picture": ("p.jpg", picture, "image/jpeg")} if picture is not None else None
    return client.post(f"{SHEET}/records", data={**there, **facts}, files=files, headers=JSON)


def test_the_page_has_every_task_in_order_and_what_to_enter(client: TestClient) -> None:
    page = client.get(SHEET).text
    assert re.findall(r'id="task-(\d+)"', page) == [f"{number}" for number in range(1, 101)]
    assert "0 of 118" in page
    assert "sealed sheet, line" in page
    rest = client.get(SHEET, params={"from": 100}).text
    assert len(re.findall(r'id="task-', rest)) == 18
    assert "Keep every way out free" in rest  # the tests of doors stand at the end


def test_no_secret_is_on_the_page(client: TestClient, shelf: Any) -> None:
    from doorwright.app.demo import PASSPHRASE
    from doorwright.app.vault import opened_secrets

    with Book.open(shelf / "medium.book", read_only=True) as book:
        secrets = opened_secrets(book, PASSPHRASE).values()
    said = client.get(SHEET).text + client.get(f"{SHEET}.json").text
    assert secrets
    assert not any(secret in said for secret in secrets)


def test_a_record_sent_twice_is_recorded_once_and_shown(client: TestClient) -> None:
    first, second = send(client), send(client)
    assert (first.status_code, first.json()) == (200, {"id": "phone-a-0001", "new": True, "number": 1})
    assert second.json() == {"id": "phone-a-0001", "new": False, "number": None}
    (one,) = tasks(client)[0]["records"]
    assert (one["deed"], one["by"], one["at"]) == ("done", "Ada Planner", "2026-11-25T11:58:00Z")
    assert sheet(client)["tally"]["done_count"] == 1
    piece = client.get(f"{SHEET}/tasks/1").text
    assert 'data-done="yes"' in piece
    assert "<html" not in piece


def test_readings_notes_times_and_pictures_are_recorded(client: TestClient) -> None:
    assert send(client, id="phone-a-0002", deed="reading", value="11,6", quantity="voltage at the lock").is_success
    assert send(client, id="phone-a-0003", deed="note", value="<b>lid</b> loose").is_success
    assert send(client, id="phone-a-0004", deed="time spent", value="754").is_success
    assert send(client, id="phone-a-0005", deed="photograph", picture=jpeg(comment(PLACE))).is_success
    assert send(
        client, id="phone-a-0006", deed="reading", value="12.1", quantity="voltage at the lock", corrects="phone-a-0002"
    ).is_success
    records = tasks(client)[0]["records"]
    assert [one["said"] for one in records] == [
        "voltage at the lock: 11.6 V",
        "<b>lid</b> loose",
        "12 min 34 s spent",
        "photograph",
        "voltage at the lock: 12.1 V",
    ]
    assert [one["counts"] for one in records] == [False, True, True, True, True]
    page = client.get(SHEET).text
    assert "&lt;b&gt;lid" in page
    assert "<b>lid" not in page
    shown = client.get(records[3]["picture"])
    assert (shown.headers["content-type"], PLACE in shown.content) == ("image/jpeg", False)
    assert client.get("/books/medium/photographs/none").status_code == 404


@pytest.mark.parametrize(
    ("facts", "why"),
    [
        ({"deed": "admired"}, "nothing of this kind"),
        ({"task": "kitchen/pair/x"}, "names no task"),
        ({"task": "dwellings/pair/"}, "names no task"),
        ({"task": ""}, "names no task"),
        ({"done_at": "yesterday"}, "no moment"),
        ({"done_at": "2026-11-25T11:58:00"}, "no moment"),
        ({"id": "x"}, "no identifier"),
        ({"value": "very"}, "says nothing more"),
        ({"deed": "time spent", "value": "-5"}, "no time spent"),
        ({"deed": "time spent", "value": "99999999999999"}, "no time spent"),
        ({"deed": "note", "value": " "}, "note is empty"),
        ({"deed": "note", "value": "x" * 4001}, "4001 characters"),
        ({"deed": "reading", "value": "12"}, "nothing says what was read"),
        ({"deed": "reading", "value": "nan", "quantity": "PoE power"}, "no PoE power in W"),
        ({"deed": "reading", "value": "600", "quantity": "voltage at the lock"}, "no voltage at the lock in V"),
        ({"deed": "reading", "value": "6", "quantity": "mood"}, "nothing that is read off"),
        ({"deed": "photograph"}, "no photograph was given"),
        ({"corrects": "phone-b-0009"}, "not in the book"),
    ],
)
def test_what_cannot_be_recorded_is_refused_with_a_reason(client: TestClient, facts: dict[str, Any], why: str) -> None:
    answer = send(client, **facts)
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json")
    assert why in answer.text
    assert sheet(client)["tally"]["done_count"] == 0
    assert tasks(client)[0]["records"] == []


def test_a_picture_that_is_none_is_refused(client: TestClient) -> None:
    answer = send(client, deed="photograph", picture=b"GIF89a")
    assert (answer.status_code, "no photograph that can be kept" in answer.text) == (422, True)


def test_another_record_under_a_known_identifier_is_refused(client: TestClient) -> None:
    send(client)
    answer = send(client, deed="not done after all")
    assert (answer.status_code, "another record has this identifier" in answer.text) == (422, True)


def test_what_somebody_else_recorded_on_this_phone_waits_for_them(client: TestClient) -> None:
    answer = send(client, by="Bo Fitter")
    assert (answer.status_code, "Bo Fitter signs in again" in answer.text) == (409, True)


def test_a_page_of_another_site_records_nothing(client: TestClient) -> None:
    answer = client.post(f"{SHEET}/records", data={"id": "phone-a-0001"}, headers={"Origin": "http://other.example"})
    assert answer.status_code == 403


def test_a_task_that_is_off_the_run_sheet_is_recorded_and_told(client: TestClient) -> None:
    assert send(client, task="dwellings/pair/taken-away").json() == {"id": "phone-a-0001", "new": True, "number": None}
    (gone,) = sheet(client)["gone"]
    assert gone["name"] == "dwellings: pair: a part that is gone"
    assert "no longer on the run sheet" in client.get(SHEET).text


def test_without_a_program_the_forms_record_too(client: TestClient) -> None:
    task = tasks(client)[4]
    form = {"id": task["fresh_id"], "task": task["key"], "minutes": "9", "note": "n", "figure": "", "quantity": ""}
    answer = client.post(SHEET, data={**form, "deed": "time spent"}, follow_redirects=False)
    assert (answer.status_code, answer.headers["location"]) == (303, f"{SHEET}#task-5")
    assert tasks(client)[4]["spent_min"] == 9
    assert tasks(client)[4]["fresh_id"] != task["fresh_id"]
    other = tasks(client)[4]
    page = client.post(SHEET, data={**form, "id": other["fresh_id"], "deed": "note"})
    assert "Recorded: note." in page.text
    wrong = client.post(SHEET, data={**form, "id": "form-0000-1", "deed": "time spent", "minutes": "soon"})
    assert wrong.status_code == 422


def test_the_page_is_filtered_by_stage_place_person_and_state(client: TestClient) -> None:
    send(client, number=3)
    network = tasks(client, stage="network")
    assert network
    assert all(task["number"] <= len(network) for task in network)
    assert [task["number"] for task in tasks(client, state="done")] == [3]
    assert [task["number"] for task in tasks(client, by="Ada Planner")] == [3]
    assert tasks(client, by="Nobody") == []
    assert 3 not in [task["number"] for task in tasks(client, state="open")]
    place = tasks(client, stage="dwellings")[0]["place"]
    there = tasks(client, stage="dwellings", place=place)
    assert {task["place"] for task in there} == {place}
    assert sheet(client)["next_open"] == 1
    assert "No task is like that" in client.get(SHEET, params={"by": "Nobody"}).text


def test_what_another_server_recorded_is_seen(client: TestClient, shelf: Any) -> None:
    assert tasks(client)[0]["records"] == []
    from doorwright.app.do_work import Sent, record_work
    from doorwright.app.means import Means

    sent = Sent(id="desk-0001", task=tasks(client)[0]["key"], deed="done", done_at=NOON.isoformat())
    record_work(shelf / "medium.book", (sent,), Means(who="Bo Fitter", now=lambda: NOON))
    assert [one["by"] for one in tasks(client)[0]["records"]] == ["Bo Fitter"]


def test_one_task_and_the_worker_are_served(client: TestClient) -> None:
    assert client.get(f"{SHEET}/tasks/1.json").json()["task"]["number"] == 1
    assert client.get(f"{SHEET}/tasks/999").status_code == 404
    assert client.get(f"{SHEET}/tasks/first").status_code == 404
    worker = client.get("/books/medium/run-sheet-offline.js")
    assert worker.headers["content-type"].startswith("text/javascript")


def test_recording_needs_the_role_work() -> None:
    posts = [route for route in run_sheet.ROUTES if "POST" in (route.methods or ())]
    assert [route.needs for route in posts] == [Role.WORK] * 2
