"""The page Verify asks an invented switch told by Debian's snmpd: its ports, what differs, and no secret anywhere."""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from starlette.testclient import TestClient

from doorwright.app.means import Means
from doorwright.web.application import application
from tests.interop import invented_switch as switch
from tests.interop.switch_agent import (
    AUTH,
    COMMUNITY,
    PASSPHRASE,
    PRIVACY,
    USER,
    VAULTED,
    Agent,
    running_agent,
    write_book,
)
from tests.unit.web.conftest import HOST, ORIGIN

PAGE = "/books/alder/verify"
SILENT = {f"{name}_port": "0" for name in ("http", "https", "rtsp", "sip", "discovery")}
"""Nobody is asked but over SNMP; this machine has no way to whom nothing asks."""
BY_USER = {"snmp": "3", "snmp_user": USER, "snmp_auth": AUTH, "snmp_privacy": PRIVACY}
BY_COMMUNITY = {"snmp": "2c", "snmp_community": COMMUNITY}
BY_VAULT = {"snmp": "2c", "snmp_vault": "yes", "snmp_passphrase": PASSPHRASE}


@pytest.fixture(scope="module")
def agent(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Agent]:
    with running_agent(tmp_path_factory.mktemp("agent")) as one:
        yield one


@pytest.fixture
def alder(tmp_path: Path) -> Path:
    folder = tmp_path / "alder"
    folder.mkdir()
    write_book(folder / "alder.book")
    return folder


@pytest.fixture
def page(alder: Path) -> Iterator[TestClient]:
    app = application(alder, Means(who="A. Fitter"), hosts=frozenset({HOST}))
    with TestClient(app, base_url=f"http://{HOST}", headers=ORIGIN) as client:
        yield client


def asked(page: TestClient, agent: Agent, **fields: str) -> Any:
    """Ask over SNMP, and return what the page tells when that is over."""
    manner = {"permitted": "yes", "asks_per_s": "1000", "patience_s": "0.3", "again": "yes", **SILENT}
    begun = page.post(PAGE, data={**manner, "snmp_port": str(agent.port), **fields}, follow_redirects=False)
    assert begun.status_code == 303, begun.text
    for _ in range(100_000):
        view = page.get(f"{PAGE}.json").json()
        if view["run"]["state"] != "running":
            assert view["run"]["state"] == "done", view["run"]
            return view
    raise AssertionError("the asking never ended")


def test_ports_stand_beside_the_plan_and_differences_among_all_others(page: TestClient, agent: Agent) -> None:
    view = asked(page, agent, **BY_USER)
    run = view["run"]
    # pethMainPsePower 120 W and pethMainPseConsumptionPower 61 W; ports 1 to 4, 7 and 8 are up; S2 says nothing
    rows = {row["cells"][0]: (row["is_well"], row["cells"][2:5]) for row in run["switches"]["rows"]}
    assert rows == {"S1": (True, ["yes", "6", "61 of 120 W"]), "S2": (False, ["none", "-", "-"])}
    assert run["switches_left_out"] == [{"name": "S3", "reason": "it has no address in the plan"}]
    (ports,) = run["ports"]["rows"]
    assert (ports["name"], ports["address"], len(ports["rows"])) == ("S1", "127.0.0.1", 8)
    one, slow, crossed, dark, other, uplink = (ports["rows"][number - 1] for number in (1, 2, 3, 5, 7, 8))
    # IF-MIB, LLDP-MIB and POWER-ETHERNET-MIB values as written out in invented_switch.py
    assert one == ["1", "V1", "V1", "1000 Mb/s", "0 of 5001000000", "delivering power, class 4"]
    assert slow == ["2", "U1", "U1", "100 Mb/s", "123 of 100003", "delivering power, class 2"]
    assert crossed[1:3] == ["U2", "U3"]
    assert dark[1:4] == ["U4", "-", "down"]
    assert dark[5] == "searching"
    assert other[1:3] == ["U6", switch.STRANGER_MAC]
    assert uplink[1:3] == ["S2", "S2, U6"]
    found = {(one["part"], one["found"]) for one in view["differences"]["rows"]}
    assert found >= {("U1", "123 of 100003"), ("U2", "S1 port 4"), ("U3", "S1 port 3"), ("S2", "none")}
    assert [one["found"] for one in view["strangers"]] == ["S1 port 7"]
    text = page.get(PAGE).text
    assert 'aria-label="Ports of S1"' in text
    assert "61 of 120 W" in text


def test_a_community_or_the_vault_open_it_too(page: TestClient, agent: Agent) -> None:
    for keys, left_out in ((BY_COMMUNITY, {"S3"}), (BY_VAULT, {"S2", "S3"})):
        run = asked(page, agent, only="S1\nS2\nS3", **keys)["run"]
        told = {row["cells"][0]: row["cells"][2] for row in run["switches"]["rows"]}
        assert told == {"S1": "yes"} | ({"S2": "none"} if "S2" not in left_out else {})
        assert {one["name"] for one in run["switches_left_out"]} == left_out


def test_no_secret_is_in_the_page_its_twin_the_book_or_the_jobs(
    page: TestClient, agent: Agent, alder: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    texts = []
    for keys in (BY_USER, BY_COMMUNITY, BY_VAULT):
        asked(page, agent, only="S1", **keys)
        texts += [page.get(PAGE).text, page.get(f"{PAGE}.json").text, page.get("/books/alder/history.json").text]
    texts += [file.read_bytes().decode("latin-1") for file in alder.iterdir()]
    texts += [*capfd.readouterr(), json.dumps(page.get("/books/alder/found.json").json())]
    for secret in (AUTH, PRIVACY, COMMUNITY, VAULTED, PASSPHRASE):
        assert not [text for text in texts if secret in text]
