"""kamailio asked about registrations, with the files that we write for it: right, wrong and unknown; nothing changes.

Needs Debian's package ``kamailio``, and a loopback net of which every address answers (Linux).
"""

import asyncio
import os
from collections.abc import Iterator
from dataclasses import replace
from datetime import UTC, datetime

import pytest

from doorwright.model.aspect import Aspect, Standing
from doorwright.probe.call import Called, Callee, CallManner, call
from doorwright.probe.reach import Outcome
from doorwright.probe.registrant import Entered, Registrant, entered_by_plan, registrants
from doorwright.probe.registration import Registration, ask_registration, sightings_of
from doorwright.probe.target import Ports, targets
from tests.interop.kamailio_process import NET, need_kamailio, running_kamailio
from tests.interop.party import on_a_loop
from tests.interop.served_site import REALM, ServedSite, served_site
from tests.interop.sip_phone import Phone
from tests.unit.probe.answering import Answering

GUESSED = "guessed"


@pytest.fixture(scope="module", params=["MD5", "SHA-256"])
def server(
    request: pytest.FixtureRequest, tmp_path_factory: pytest.TempPathFactory
) -> Iterator[tuple[ServedSite, int]]:
    need_kamailio()
    folder = tmp_path_factory.mktemp("kamailio")
    with running_kamailio(
        folder, digest=request.param, site_of=lambda port: served_site(net=NET, port=port)
    ) as running:
        yield running


def registrant(site: ServedSite, unit: str) -> Registrant:
    """The unit with what the plan enters at it: the truth that the files were made of as well."""
    everybody, _ = targets(site.walk, Ports())
    found, _ = registrants(site.walk, everybody, entered_by_plan(site.walk, site.secrets))
    return next(one for one in found if one.name == unit)


def asked(one: Registrant) -> Registration:
    async def turn() -> None:
        return

    return asyncio.run(
        ask_registration(one, patience_s=10, now=lambda: datetime.now(UTC), chance=os.urandom, turn=turn)
    )


def registered(server: tuple[ServedSite, int], unit: str, address: str | None = None) -> Phone:
    site, port = server
    one = registrant(site, unit)
    phone = Phone(one.entered.user, one.entered.secret, REALM, address or one.address, (f"{NET}.1", port))
    assert phone.register()[1].code == 200
    return phone


def test_the_right_secret_is_taken_and_nobody_is_registered_by_it(server: tuple[ServedSite, int]) -> None:
    one = registrant(server[0], "1005 0")
    for _ in range(2):  # the first question registers nobody, or the second would find it
        said = asked(one)
        assert (said.reply.code, said.standing, said.bindings) == (200, Standing.ACCEPTED, ())
        assert said.is_registered is False


def test_a_registration_is_told_with_its_address_and_time(server: tuple[ServedSite, int]) -> None:
    one = registrant(server[0], "1005 0")
    phone = registered(server, "1005 0")
    try:
        said = asked(one)
        assert said.own is not None
        assert said.own.left_s is not None
        assert 200 < said.own.left_s <= 300  # kamailio.cfg grants 300 s at most
        assert said.elsewhere == ()
        assert dict(sightings_of(said))[Aspect.REGISTERED] == "yes"
    finally:
        phone.close()
    assert asked(one).is_registered is False


def test_three_receivers_of_a_dwelling_are_each_at_their_own_address(server: tuple[ServedSite, int]) -> None:
    phones = [registered(server, f"1001 {n}") for n in (0, 2)]
    try:
        said = {n: asked(registrant(server[0], f"1001 {n}")) for n in range(3)}
        assert {n: one.is_registered for n, one in said.items()} == {0: True, 1: False, 2: True}
        assert all(one.elsewhere == () and one.standing is Standing.ACCEPTED for one in said.values())
    finally:
        for phone in phones:
            phone.close()


def test_somebody_elsewhere_with_the_same_user_is_told(server: tuple[ServedSite, int]) -> None:
    phone = registered(server, "1005 0", f"{NET}.99")
    try:
        said = asked(registrant(server[0], "1005 0"))
        assert (said.own, said.elsewhere, said.is_registered) == (None, (f"{NET}.99",), True)
    finally:
        phone.close()


def test_a_wrong_secret_and_an_unknown_user_are_refused(server: tuple[ServedSite, int]) -> None:
    one = registrant(server[0], "1005 0")
    wrong = asked(replace(one, entered=Entered(user=one.entered.user, secret=GUESSED)))
    assert (wrong.reply.code, wrong.standing, wrong.bindings) == (403, Standing.REFUSED, None)  # "Wrong Secret"
    unknown = asked(replace(one, entered=Entered(user="1999", secret=GUESSED)))
    assert (unknown.reply.code, unknown.standing) == (403, Standing.REFUSED)  # "No Such User"


@on_a_loop
async def _called(server: tuple[ServedSite, int], secret: str, came: list[Called]) -> None:
    site, _ = server
    caller, callee = registrant(site, "Main panel"), registrant(site, "1005 0")
    unit = Answering()
    _, port = await unit.begin((callee.address, 0))
    try:
        phone = await asyncio.to_thread(_bound, server, port)
        came.append(
            await call(
                Callee(
                    user="1005",
                    at=caller.at,
                    caller=Entered(user=caller.entered.user, secret=secret),
                    speech_to=frozenset({callee.address}),
                ),
                CallManner(ring_s=10, talk_s=1.0),
                now=lambda: datetime.now(UTC),
                chance=os.urandom,
            )
        )
        if came[0].taken:
            await unit.hung_up.wait()
        await asyncio.to_thread(phone.close)
    finally:
        unit.close()


def _bound(server: tuple[ServedSite, int], port: int) -> Phone:
    """Register the address of a unit that listens at another port than the one that registers it."""
    site, at = server
    one = registrant(site, "1005 0")
    phone = Phone(one.entered.user, one.entered.secret, REALM, one.address, (f"{NET}.1", at))
    phone.host = f"{one.address}:{port}"
    assert phone.register()[1].code == 200
    return phone


def test_a_call_as_a_unit_goes_through_the_server(server: tuple[ServedSite, int]) -> None:
    came: list[Called] = []
    _called(server, server[0].secret_of("Main panel"), came)
    assert (came[0].outcome, came[0].rang, came[0].taken, came[0].trouble) == (Outcome.ANSWERED, True, True, "")
    assert came[0].heard is not None
    assert came[0].heard.lost_count == 0
    assert came[0].told is not None


def test_a_call_with_a_wrong_secret_rings_nobody(server: tuple[ServedSite, int]) -> None:
    came: list[Called] = []
    _called(server, GUESSED, came)
    assert (came[0].rang, came[0].taken, came[0].code) == (False, False, 403)
