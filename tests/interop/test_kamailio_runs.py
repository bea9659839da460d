"""The SIP server's files, run: kamailio on the loopback net registers units with right secrets only and rings them.

Needs Debian's package ``kamailio``, and a loopback net of which every address answers (Linux).
"""

import subprocess
from collections.abc import Iterator
from dataclasses import replace
from datetime import datetime, timedelta
from pathlib import Path

import pytest

from doorwright.model.calling import DAY_MIN, HOLIDAY, Window
from tests.interop.kamailio_process import NET, ZONE, need_kamailio, running_kamailio
from tests.interop.served_site import EVER, INSIDE, OUTSIDE, REALM, WEEK, ServedSite, served_site
from tests.interop.sip_phone import Phone
from tests.interop.sipp_process import SIPP, need_sipp

GUESSED = "guessed"


@pytest.fixture(scope="module", autouse=True)
def _installed() -> None:
    need_kamailio()


def _ordinary(port: int) -> ServedSite:
    """Return the site on an ordinary day: hours around the present one in the site's zone, and all but these."""
    now = datetime.now(ZONE)
    minute = now.hour * 60 + now.minute
    start_min, end_min = (minute - 120) % DAY_MIN, (minute + 120) % DAY_MIN
    return served_site(
        net=NET,
        port=port,
        inside=replace(INSIDE, windows=(Window(days=WEEK, start_min=start_min, end_min=end_min),)),
        outside=replace(OUTSIDE, windows=(Window(days=WEEK, start_min=end_min, end_min=start_min),)),
    )


def _holiday(port: int) -> ServedSite:
    """Return the site on a holiday after a holiday: hours of holidays only, and hours that close on holidays."""
    today = datetime.now(ZONE).date()
    return served_site(
        net=NET,
        port=port,
        inside=replace(INSIDE, windows=(Window(days=(HOLIDAY,), start_min=0, end_min=DAY_MIN),)),
        outside=replace(OUTSIDE, windows=(EVER,), closed_on_holidays=True),
        holidays=tuple(today + timedelta(days=days) for days in (-1, 0, 1)),
    )


class World:
    """A running server, and units that come and go."""

    def __init__(self, site: ServedSite, port: int) -> None:
        self.site, self.port = site, port
        self.phones: list[Phone] = []

    def phone(self, unit: str, *, secret: str | None = None, user: str | None = None) -> Phone:
        """Return a unit of the site at its planned address."""
        walk = self.site.walk
        planned = next(one for one in self.site.site.units if one.name == unit)
        dwelling = next((one for one in walk.site.dwellings if one.id == planned.dwelling), None)
        number = user or planned.call_number or (dwelling.call_number if dwelling else None) or ""
        made = Phone(
            number,
            secret if secret is not None else self.site.secret_of(unit),
            REALM,
            planned.address or "",
            (f"{NET}.1", self.port),
        )
        self.phones.append(made)
        return made

    def registered(self, unit: str) -> Phone:
        """Return a unit that registered."""
        phone = self.phone(unit)
        assert phone.register()[1].code == 200
        return phone


@pytest.fixture(
    scope="module", params=[("MD5", _ordinary), ("SHA-256", _holiday)], ids=["MD5, ordinary day", "SHA-256, holiday"]
)
def server(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[ServedSite, int]]:
    digest, site_of = request.param
    with running_kamailio(tmp_path_factory.mktemp("kamailio"), digest=digest, site_of=site_of) as running:
        yield running


@pytest.fixture
def world(server: tuple[ServedSite, int]) -> Iterator[World]:
    made = World(*server)
    yield made
    for phone in made.phones:
        phone.close()


def test_the_right_secret_registers_and_a_wrong_one_does_not(world: World) -> None:
    before, after = world.phone("1001 0").register()
    assert (before.code, after.code) == (401, 200)
    wrong = world.phone("1001 0", secret=GUESSED).register()
    assert (wrong[0].code, wrong[1].code) == (401, 403)


def test_each_receiver_of_a_dwelling_has_a_secret_of_its_own(world: World) -> None:
    assert world.site.secret_of("1001 0") != world.site.secret_of("1001 2")
    for unit in ("1001 0", "1001 1", "1001 2"):
        assert world.phone(unit).register()[1].code == 200


def test_nobody_registers_in_the_name_of_another(world: World) -> None:
    assert world.phone("1005 0").register(to="8001")[1].code == 403
    assert world.phone("1005 0", user="1999").register()[1].code == 403  # a user that is not in the plan
    assert world.phone("Desk", secret=world.site.secret_of("1001 0")).register()[1].code == 403


def test_nobody_calls_without_proof(world: World) -> None:
    panel = world.phone("Main panel", secret=GUESSED)
    request = panel.request("INVITE", f"sip:1001@{REALM}", "1001")
    refused = panel.answered(request)
    assert refused.code == 407
    assert panel.answered(panel.proved(request, refused)).code == 403


def test_a_call_forks_to_three_receivers_and_the_first_to_answer_has_it(world: World) -> None:
    panel = world.registered("Main panel")
    receivers = [world.registered(f"1001 {n}") for n in range(3)]
    call = panel.invite("1001")
    rung = [receiver.rung() for receiver in receivers]
    assert len({one.headers.via.branch for one in rung}) == 3  # RFC 3261 §16.6: a branch each
    assert all(one.headers.get("Proxy-Authorization") is None for one in rung)
    receivers[1].say(rung[1], 200)
    taken = panel.final(call)
    assert taken.code == 200
    assert f"@{NET}.14:" in str(taken.headers.contacts[0].uri)  # 11 the panel, 12 the desk, 13 to 15 the receivers
    assert receivers[0].cancelled(rung[0])
    assert receivers[2].cancelled(rung[2])


def test_what_follows_an_answer_passes_through_the_server(world: World) -> None:
    panel, receiver = world.registered("Main panel"), world.registered("1005 0")
    call = panel.invite("1005")
    receiver.say(receiver.rung(), 200)
    taken = panel.final(call)
    panel.send(panel.within("ACK", call, taken))
    assert receiver.asked("ACK").headers.call_id == call.headers.call_id
    bye = panel.within("BYE", call, taken)
    panel.send(bye)
    assert receiver.asked("BYE").headers.via.host == f"{NET}.1"
    assert panel.final(bye).code == 200


def test_all_busy_is_sent_on_to_the_desk(world: World) -> None:
    panel, desk = world.registered("Main panel"), world.registered("Desk")
    receivers = [world.registered(f"1001 {n}") for n in range(3)]
    call = panel.invite("1001")
    for receiver in receivers:
        receiver.say(receiver.rung(), 486)
    desk.say(desk.rung(), 200)
    assert panel.final(call).code == 200


def test_receivers_ring_in_turn_and_then_the_desk(world: World) -> None:
    panel, desk = world.registered("Main panel"), world.registered("Desk")
    second, first = world.registered("1002 1"), world.registered("1002 0")  # whoever registered last does not go first
    call = panel.invite("1002")
    rung = first.rung()
    assert second.hears_nothing()
    assert first.cancelled(rung)  # after its second
    rung = second.rung()
    assert desk.hears_nothing()
    assert second.cancelled(rung)
    desk.say(desk.rung(), 200)
    assert panel.final(call).code == 200


def test_a_receiver_that_came_back_at_another_port_rings_there(world: World) -> None:
    panel, before, after = (world.registered(name) for name in ("Main panel", "1002 0", "1002 0"))
    call = panel.invite("1002")
    after.say(after.rung(), 200)
    assert panel.final(call).code == 200
    assert before.hears_nothing()


def test_not_registered_and_always_inside_hours_are_sent_on(world: World) -> None:
    panel, desk = world.registered("Main panel"), world.registered("Desk")
    world.registered("1004 0")
    call = panel.invite("1003")
    desk.say(desk.rung(), 200)
    assert panel.final(call).code == 200


def test_outside_the_hours_of_a_divert_the_dwelling_rings(world: World) -> None:
    panel, desk, receiver = (world.registered(name) for name in ("Main panel", "Desk", "1005 0"))
    call = panel.invite("1005")
    receiver.say(receiver.rung(), 200)
    assert panel.final(call).code == 200
    assert desk.hears_nothing()


@pytest.mark.parametrize(
    ("number", "code"),
    [("1003x", 404), ("1006", 482)],
    ids=["a number that is not planned", "diverts that lead round"],
)
def test_calls_that_lead_nowhere_end(world: World, number: str, code: int) -> None:
    panel = world.registered("Main panel")
    assert panel.final(panel.invite(number)).code == code


def test_the_server_relays_to_nobody_else(world: World) -> None:
    panel = world.phone("Main panel")
    for method, target, code in (("INVITE", "sip:1001@elsewhere.example", 403), ("MESSAGE", f"sip:1001@{REALM}", 405)):
        assert panel.answered(panel.request(method, target, "1001")).code == code


_REGISTERS = """<?xml version="1.0" encoding="UTF-8"?>
<scenario name="register">
  <send retrans="500"><![CDATA[
    REGISTER sip:{realm} SIP/2.0
    Via: SIP/2.0/[transport] [local_ip]:[local_port];branch=[branch]
    Max-Forwards: 70
    From: <sip:8001@{realm}>;tag=[call_number]
    To: <sip:8001@{realm}>
    Call-ID: [call_id]
    CSeq: [cseq] REGISTER
    Contact: <sip:8001@[local_ip]:[local_port]>
    {proof}
    Expires: {expires_s}
    Content-Length: 0
  ]]></send>
  <recv response="{code}" auth="{auth}"/>
{more}
"""


@pytest.mark.parametrize("server", [("MD5", _ordinary)], indirect=True, ids=["MD5"])  # it knows no other
@pytest.mark.parametrize(("right", "code"), [(True, 200), (False, 403)])
def test_a_client_written_by_others_registers(
    server: tuple[ServedSite, int], tmp_path: Path, right: bool, code: int
) -> None:
    need_sipp()
    site, port = server
    secret = site.secret_of("Desk") if right else GUESSED
    proof = f"[authentication username=8001 password={secret}]"
    last = _REGISTERS[_REGISTERS.index("  <send") :].format(
        realm=REALM, proof=proof, expires_s=0, code=code, auth="false", more="</scenario>"
    )
    scenario = tmp_path / "register.xml"
    scenario.write_text(_REGISTERS.format(realm=REALM, proof="", expires_s=0, code=401, auth="true", more=last))
    command = [
        str(SIPP),
        f"{NET}.1:{port}",
        "-sf",
        str(scenario),
        "-m",
        "1",
        "-i",
        f"{NET}.12",
        "-timeout",
        "20s",
        "-nostdin",
    ]
    ran = subprocess.run(command, capture_output=True, text=True, check=False, cwd=tmp_path, timeout=60)
    assert ran.returncode == 0, ran.stdout[-2000:] + ran.stderr
