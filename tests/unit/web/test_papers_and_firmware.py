"""Papers to take away, made in the background; a firmware step planned and noted; who rings when."""

import io
import zipfile
from collections.abc import Callable

import pytest
from starlette.testclient import TestClient

from doorwright.render.pdf import PAPERS

Follow = Callable[[str, dict[str, str]], str]


@pytest.fixture
def follow(client: TestClient) -> Follow:
    """Begin a job by a form, wait until it has ended, and return the page that it leads to."""

    def begin(where: str, fields: dict[str, str]) -> str:
        answer = client.post(where, data=fields, follow_redirects=False)
        assert answer.status_code == 303, answer.text
        job = answer.headers["location"]
        while client.get(f"{job}.json").json()["state"] in {"waiting", "running"}:
            pass
        return client.get(job).text

    return begin


def made(client: TestClient) -> dict[str, object]:
    found: dict[str, object] = client.get("/books/medium/papers.json").json()["made"][0]
    return found


def test_one_paper_alone_is_made_and_given_out(client: TestClient, follow: Follow) -> None:
    page = follow("/books/medium/papers/alone", {"paper": "runsheet"})
    assert "Run sheet: made." in page
    key = made(client)["key"]
    paper = client.get(f"/books/medium/papers/{key}/runsheet.pdf")
    assert paper.content.startswith(b"%PDF")
    assert paper.headers["content-type"] == "application/pdf"
    assert client.get(f"/books/medium/papers/{key}/../runsheet.pdf").status_code == 404
    assert client.get(f"/books/medium/papers/{key}/other.pdf").status_code == 404
    assert client.get("/books/medium/papers/nokey/runsheet.pdf").status_code == 404
    recorded = client.get("/books/medium/papers.json").json()["recorded"]
    assert recorded[0]["name"] == "runsheet.pdf"


@pytest.mark.parametrize("kind", sorted(set(PAPERS) - {"drawings", "runsheet"}))
def test_every_paper_can_be_made_alone(client: TestClient, follow: Follow, kind: str) -> None:
    assert f"{PAPERS[kind]}: made." in follow("/books/medium/papers/alone", {"paper": kind})


def test_the_rebuild_pack_comes_in_one_file_too(client: TestClient, follow: Follow) -> None:
    assert "78 units to set up again" in follow("/books/medium/papers/rebuild", {"firmware": "", "units": ""})
    packed = client.get(f"/books/medium/papers/{made(client)['key']}/all.zip")
    with zipfile.ZipFile(io.BytesIO(packed.content)) as archive:
        assert archive.namelist() == ["rebuild-cards.pdf", "rebuild-entries.xlsx"]


@pytest.mark.parametrize(("form", "begins"), [("xlsx", b"PK"), ("json", b"{")])
def test_the_site_comes_as_a_file(client: TestClient, follow: Follow, form: str, begins: bytes) -> None:
    follow("/books/medium/papers/site", {"form": form, "revision": "1"})
    file = client.get(f"/books/medium/papers/{made(client)['key']}/medium.{form}")
    assert file.content.startswith(begins)


@pytest.mark.parametrize(
    ("where", "fields"),
    [
        ("papers/alone", {"paper": "poster"}),
        ("papers/pack", {"technicians": "61"}),
        ("papers/site", {"form": "docx"}),
        ("papers/rebuild", {"firmware": "4.0", "units": "URU 1"}),
        ("firmware/plan", {}),
        ("firmware/plan", {"to:vcu-direct": "4.0", "technicians": "99"}),
        ("firmware/done", {"units": "", "version": "4.0"}),
    ],
)
def test_what_cannot_be_made_is_refused(client: TestClient, where: str, fields: dict[str, str]) -> None:
    assert client.post(f"/books/medium/{where}", data=fields).status_code == 422


def test_all_that_is_wrong_with_a_firmware_step_is_told_at_once(client: TestClient) -> None:
    refused = client.post("/books/medium/firmware/plan", data={"technicians": "99", "seconds": "soon"}).text
    assert "no version is wanted of any type" in refused
    assert "Write one from 1 to 50." in refused
    assert "Write one from 0 to 600." in refused


def test_the_empty_workbook_is_given_out(client: TestClient) -> None:
    assert client.get("/template.xlsx").content.startswith(b"PK")


def test_a_firmware_step_is_planned_and_noted(client: TestClient, follow: Follow) -> None:
    view = client.get("/books/medium/firmware.json").json()
    steppable = next(one for one in view["types"] if len(one["versions"]) > 1)
    newest = steppable["versions"][-1]
    page = follow("/books/medium/firmware/plan", {f"to:{steppable['key']}": newest, "seconds": "0"})
    assert "Order of work" in page or "stand there already" in page or "Firmware plan" in page
    paper = page.partition("<main")[2].partition('class="button main" href="')[2].partition('"')[0]
    assert client.get(paper).content.startswith(b"%PDF")
    unknown = client.post("/books/medium/firmware/done", data={"units": "URU nowhere", "version": newest})
    assert unknown.status_code == 422
    assert "there is no unit of this name" in unknown.text


def test_a_job_is_its_own_and_a_stopped_one_saves_nothing(client: TestClient) -> None:
    begun = client.post("/books/medium/papers/pack", data={"technicians": "2"}, follow_redirects=False)
    job = begun.headers["location"]
    client.post(f"{job}/stop")
    while client.get(f"{job}.json").json()["state"] in {"waiting", "running"}:
        pass
    assert client.get(f"{job}.json").json()["state"] == "stopped"
    assert "Stopped. Nothing more was done." in client.get(job).text
    assert client.get("/jobs/unknown").status_code == 404


# calls


def test_the_week_of_calls_is_shown_by_letters(client: TestClient) -> None:
    view = client.get("/books/medium/calls.json").json()
    assert {one["entrance"] for one in view["strips"]} == set(view["asked"]["entrances"])
    strips = [calls["strip"] for one in view["strips"] for calls in one["calls"]]
    for strip in strips:
        letters = {meaning["letter"] for meaning in strip["meanings"]}
        for day in strip["days"]:
            assert {piece["letter"] for piece in day["pieces"]} <= letters
            assert day["pieces"][0]["start_min"] == 0
            assert day["pieces"][-1]["end_min"] == 24 * 60
            ends = [piece["end_min"] for piece in day["pieces"][:-1]]
            assert ends == [piece["start_min"] for piece in day["pieces"][1:]]


def test_one_call_at_a_moment_is_told(client: TestClient) -> None:
    view = client.get("/books/medium/calls.json", params={"to": "1", "at": "Sat 14:30"}).json()
    assert [one["called"] for one in view["proof"]["answers"]] == ["1"] * len(view["proof"]["answers"])
    page = client.get("/books/medium/calls", params={"to": "1", "at": "Sat 14:30"}).text
    assert "When answering" in page
    day = client.get("/books/medium/calls", params={"on": "2027-12-25"})
    assert day.status_code == 200


@pytest.mark.parametrize("asked", [{"to": "999"}, {"at": "whenever"}, {"at": "Sat 14:30", "on": "2027-12-25"}])
def test_what_cannot_be_asked_is_told_beside_the_form(client: TestClient, asked: dict[str, str]) -> None:
    page = client.get("/books/medium/calls", params=asked)
    assert page.status_code == 422
    assert 'role="alert"' in page.text
