"""The proxy of RFC 3261 §16 on a network in memory, in virtual time; figures of time from RFC 3261 Table 4."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from doorwright.sip.digest import Account, answer, parse_challenge
from doorwright.sip.events import Faulty
from doorwright.sip.guard import Guard
from doorwright.sip.message import Request, Response, response_to
from doorwright.sip.nonces import NonceBook
from doorwright.sip.proxy import Manner, Settled
from doorwright.sip.registrar import Registrar
from doorwright.sip.return_path import Address
from doorwright.sip.server import Lapsed, Registered, Server
from tests.unit.sip.stations import DELAY_S, SERVER, Network, Station, chance

TARGET = "sip:1203@tower.example"
UNIT = Account(username="1203", password="a long one")  # noqa: S106
Plan = tuple[tuple[float, int], ...]


def made(*, manner: Manner | None = None, guard: Guard | None = None, most: int = 20_000) -> Network:
    registrar = Registrar(domains=["tower.example", SERVER[0]], users=["1203", "1204"])
    return Network(
        Server(registrar, address=SERVER, chance=chance(7), manner=manner, guard=guard, most_transactions=most)
    )


def bind(network: Network, *stations: Station, user: str = "1203", q: tuple[str, ...] = ()) -> None:
    """Register each station for the user, as it does itself."""
    for at, station in enumerate(stations):
        contact = f"<sip:unit@{station.address[0]}>" + (f";q={q[at]}" if q else "")
        to = f"<sip:{user}@tower.example>"
        station.ask(station.request("REGISTER", "sip:tower.example", To=to, Contact=contact, Expires="3600"))
    network.run(network.now_s + 1.0)
    assert all(station.codes("REGISTER") == [200] for station in stations)


def calling(
    *plans: Plan, manner: Manner | None = None, q: tuple[str, ...] = ()
) -> tuple[Network, Station, list[Station]]:
    """A network at 1 s, with a caller and a user whose stations answer by these plans."""
    network = made(manner=manner)
    called = [Station(network, 11 + at, *plan) for at, plan in enumerate(plans)]
    bind(network, *called, q=q)
    return network, Station(network, 10), called


def tags(responses: list[Response]) -> list[str | None]:
    return [each.headers.to.tag for each in responses]


def test_three_stations_ring_the_second_answers_and_the_others_are_cancelled() -> None:
    rings: Plan = ((0.1, 180),)
    network, caller, (first, second, third) = calling(rings, ((0.1, 180), (5.0, 200)), rings)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(60.0)
    assert sorted(set(caller.codes())) == [180, 200]
    assert tags(caller.finals()) == ["tag192.0.2.12"]
    assert [len(each.requests("CANCEL")) for each in (first, second, third)] == [1, 0, 1]
    # of their 487 by the proxy; of the 200 by the caller, past the proxy, which adds no Record-Route
    assert [len(each.requests("ACK")) for each in (first, second, third)] == [1, 1, 1]
    assert all("Record-Route" not in each.headers for each in second.requests("INVITE"))
    assert Settled(call_id="call@192.0.2.10", method="INVITE", target=TARGET, code=200) in network.events
    network.run(400.0)
    assert network.server.timer_at() == pytest.approx(3600.0 + DELAY_S)  # only the bindings are left


def test_the_copy_is_as_the_clause_wants_it() -> None:
    """§16.6: the target in the request line, one hop less, our Via on top; RFC 5393 §5.3: a share of the breadth."""
    network, caller, called = calling(((0.0, 486),), ((0.0, 486),), ((0.0, 486),))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    for station in called:
        came = station.requests("INVITE")[0]
        assert came.target == f"sip:unit@{station.address[0]}"
        assert came.headers.max_forwards == 69
        assert came.headers.get("Max-Breadth") == "20"  # 60 among three
        assert [via.host for via in came.headers.vias] == [SERVER[0], "192.0.2.10"]
        assert came.headers.get("To") == f"<{TARGET}>"
    assert len({each.requests("INVITE")[0].headers.via.branch for each in called}) == 3


def test_two_that_answer_at_once_are_both_passed_on() -> None:
    """§16.7 step 5: every 2xx; the caller acknowledges each and ends one of them itself."""
    plan: Plan = ((0.1, 180), (2.0, 200))
    network, caller, called = calling(plan, plan)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(40.0)
    assert set(tags(caller.finals())) == {"tag192.0.2.11", "tag192.0.2.12"}
    assert [each.code for each in caller.finals()] == [200] * len(caller.finals())
    assert all(each.requests("ACK") for each in called)
    assert [each.code for each in network.events if isinstance(each, Settled)] == [200]  # settled once


def test_a_busy_and_a_silent_one_give_busy_once_the_silence_is_proven() -> None:
    """Timer B: 64·T1 = 32 s without any answer count as 408; busy goes before it, and the caller hears 486."""
    network, caller, (silent, _) = calling((), ((0.1, 180), (1.0, 486)))
    silent.is_deaf = True
    caller.ask(caller.request("INVITE", TARGET))
    network.run(32.9)
    assert not caller.finals()
    network.run(33.5)
    assert [each.code for each in caller.finals()] == [486]
    # 0, 0.5, 1.5, 3.5, 7.5, 15.5, 31.5 s: seven copies (§17.1.1.2)
    assert len(silent.requests("INVITE")) == 7
    assert not silent.requests("CANCEL")  # §9.1: nothing was heard of it


def test_the_caller_gives_up() -> None:
    """§16.10: CANCEL is answered by the proxy and goes to all; the 487 of the stations comes back."""
    network, caller, called = calling(((0.1, 180),), ((0.1, 180),))
    invite = caller.ask(caller.request("INVITE", TARGET))
    network.run(3.0)
    caller.cancel(invite)
    network.run(10.0)
    assert caller.codes("CANCEL") == [200]
    assert [each.code for each in caller.finals()] == [487]
    assert [len(each.requests("CANCEL")) for each in called] == [1, 1]


def test_a_station_is_cancelled_only_once_it_has_said_something() -> None:
    """§9.1: the CANCEL waits for a provisional response, which here comes after the caller gave up."""
    network, caller, (slow,) = calling(((4.0, 180),))
    # its transactions would say 100 by themselves after 200 ms; that word is lost
    network.fate = lambda data, *_: 0 if b"SIP/2.0 100" in data[:20] else 1
    invite = caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    caller.cancel(invite)
    network.run(4.9)
    assert not slow.requests("CANCEL")
    network.run(10.0)
    assert len(slow.requests("CANCEL")) == 1
    assert [each.code for each in caller.finals()] == [487]


def test_a_cancel_without_its_invite_is_told_so() -> None:
    network, caller, _ = calling(((0.1, 180),))
    caller.ask(caller.request("CANCEL", TARGET))
    network.run(2.0)
    assert caller.codes("CANCEL") == [481]  # §9.2


def test_one_that_declines_for_all_ends_the_others() -> None:
    """§16.7 step 5: after a 6xx nobody else is asked; it is handed back when all have ended."""
    network, caller, (_, other) = calling(((0.1, 180), (1.0, 603)), ((0.1, 180),))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(10.0)
    assert [each.code for each in caller.finals()] == [603]
    assert len(other.requests("CANCEL")) == 1


@pytest.mark.parametrize(
    ("codes", "best"),
    [
        ((404, 302), 302),  # the lowest class
        ((500, 486), 486),
        ((486, 407), 407),  # §16.7 step 6: what says how to ask again
        ((487, 480), 480),  # our own order: what a station means goes before what our CANCEL made it say
        ((503, 504), 504),
        ((503, 503), 500),  # only a target is overloaded, not this proxy
        ((486, 603), 603),
    ],
)
def test_the_best_of_the_refusals_goes_back(codes: tuple[int, ...], best: int) -> None:
    network, caller, _ = calling(*(((0.1, code),) for code in codes))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(10.0)
    assert [each.code for each in caller.finals()] == [best]


def test_in_turn_by_q_and_the_next_when_one_has_rung_long_enough() -> None:
    manner = Manner(in_turn=True, turn_s=15.0)
    network, caller, (low, high, middle) = calling(
        ((0.1, 180), (1.0, 200)), ((0.1, 180),), ((0.1, 486),), manner=manner, q=("0.1", "1.0", "0.5")
    )
    caller.ask(caller.request("INVITE", TARGET))
    network.run(15.9)
    assert (len(high.requests("INVITE")), middle.requests("INVITE"), low.requests("INVITE")) == (1, [], [])
    network.run(40.0)
    assert len(high.requests("CANCEL")) == 1  # 15 s are over
    assert middle.requests("INVITE")
    assert tags(caller.finals()) == ["tag192.0.2.11"]
    begun_s = [next(at_s for at_s, one in each.got if isinstance(one, Request)) for each in (high, middle, low)]
    assert begun_s == [pytest.approx(1.0 + each, abs=0.2) for each in (0.0, 15.0, 15.1)]  # busy ends a turn at once


@pytest.mark.parametrize(("said", "final"), [(200, 200), (603, 603), (None, 487)])
def test_whom_the_turn_does_not_reach_is_never_called(said: int | None, final: int) -> None:
    """After a 2xx, a 6xx or the caller's CANCEL nobody else is asked (§16.7 step 5, §16.10)."""
    plan = ((0.1, 180),) if said is None else ((0.1, 180), (5.0, said))
    network, caller, (_, other) = calling(plan, ((0.1, 180),), manner=Manner(in_turn=True, turn_s=15.0), q=("1", "0.5"))
    invite = caller.ask(caller.request("INVITE", TARGET))
    network.run(6.0)
    if said is None:
        caller.cancel(invite)
    network.run(100.0)
    assert [each.code for each in caller.finals()] == [final]
    assert not other.requests("INVITE")


def test_what_rings_for_ever_and_hears_no_cancel_is_given_up() -> None:
    """Timer C after 181 s, and 64·T1 after its CANCEL (§16.8, §9.1)."""
    network, caller, (station,) = calling(((0.1, 180),))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(10.0)
    station.is_deaf = True
    network.run(1.0 + 0.1 + 181.0 + 31.9)
    assert not caller.finals()
    network.run(1.0 + 0.2 + 181.0 + 32.1)
    assert [each.code for each in caller.finals()] == [408]


def test_timer_c_ends_what_rings_for_ever() -> None:
    """§16.8: more than three minutes after the last 101 to 199; 181 s here."""
    network, caller, (station,) = calling(((0.1, 180), (100.0, 180)))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(1.0 + 100.0 + 180.0)
    assert not station.requests("CANCEL")
    network.run(1.0 + 100.0 + 182.0)
    assert len(station.requests("CANCEL")) == 1
    assert [each.code for each in caller.finals()] == [487]


def test_a_station_that_rings_and_then_is_gone_is_given_up() -> None:
    """§9.1: 64·T1 after the CANCEL the call counts as cancelled."""
    network, caller, (station,) = calling(((0.1, 180),))
    invite = caller.ask(caller.request("INVITE", TARGET))
    network.run(3.0)
    station.is_deaf = True
    caller.cancel(invite)
    network.run(34.9)
    assert not caller.finals()
    network.run(36.0)
    assert [each.code for each in caller.finals()] == [408]


def test_what_follows_comes_this_way_where_the_proxy_asks_for_it() -> None:
    network, caller, (station,) = calling(((0.1, 200),), manner=Manner(record_route=True))
    caller.ask(caller.request("INVITE", TARGET))
    network.run(3.0)
    assert station.requests("INVITE")[0].headers.get("Record-Route") == "<sip:192.0.2.1:5060;lr>"
    ack = station.requests("ACK")[0]
    assert ack.target == "sip:unit@192.0.2.11"
    assert ack.headers.routes == ()  # §16.4: ours is taken off
    to = str(caller.finals()[0].headers.to)
    route = "<sip:192.0.2.1:5060;lr>"
    caller.ask(caller.request("BYE", "sip:unit@192.0.2.11", seq=2, To=to, Route=route))
    network.run(5.0)
    assert caller.codes("BYE") == [200]


def test_a_strict_router_before_and_behind_us_is_served() -> None:
    """§16.4 and §16.6 step 6, as in the example of §16.12.1.2."""
    network = made()
    caller, behind = Station(network, 10), Station(network, 20)
    caller.ask(
        caller.request(
            "OPTIONS",
            "sip:192.0.2.1:5060;lr",
            To="<sip:unit@192.0.2.11>;tag=t",
            Route="<sip:192.0.2.20>, <sip:unit@192.0.2.11>",
        )
    )
    network.run(1.0)
    came = behind.requests("OPTIONS")[0]
    assert came.target == "sip:192.0.2.20"  # it has no lr, so it wants itself in the request line
    assert [str(each.uri) for each in came.headers.routes] == ["sip:unit@192.0.2.11"]
    assert caller.codes("OPTIONS") == [200]


@pytest.mark.parametrize(
    ("target", "more", "code"),
    [
        ("sip:9999@tower.example", {}, 404),
        ("sip:1204@tower.example", {}, 480),  # known, registered nowhere
        ("sip:unit@elsewhere.example", {}, 500),  # names are not looked up
        ("sip:unit@192.0.2.11;transport=tcp", {}, 500),
        ("tel:+1", {}, 416),
        ("sips:1203@192.0.2.11", {}, 416),
        (TARGET, {"Max_Forwards": "0"}, 483),
        (TARGET, {"Proxy_Require": "something"}, 420),
        (TARGET, {"Max_Breadth": "0"}, 440),  # RFC 5393 §5.3.3.1
        (TARGET, {"Max_Breadth": "many"}, 400),
        (TARGET, {"Route": "<sip:elsewhere.example;lr>"}, 500),
        ("sip:tower.example", {}, 405),  # the server itself is called by nobody
    ],
)
def test_what_the_proxy_refuses(target: str, more: dict[str, str], code: int) -> None:
    network, caller, _ = calling(((0.1, 200),))
    caller.ask(caller.request("INVITE", target, **more))  # type: ignore[arg-type]  # none of them is seq
    network.run(10.0)
    assert [each.code for each in caller.finals()] == [code]


def test_a_breadth_told_twice_is_a_bad_request() -> None:
    """RFC 5393 §5.2: one number."""
    network, caller, _ = calling(((0.1, 200),))
    asked = caller.request("INVITE", TARGET, Max_Breadth="9")
    caller.ask(asked.with_headers(asked.headers.adding("Max-Breadth", "8")))
    network.run(5.0)
    assert [each.code for each in caller.finals()] == [400]


def test_a_contact_says_where_to_and_nothing_else() -> None:
    """§19.1.1 table 1: no headers and no method in a request line; RFC 4475 §3.3.14: they are not acted on either."""
    network = made()
    station, caller = Station(network, 11, (0.1, 486)), Station(network, 10)
    contact = "<sip:unit@192.0.2.11;line=2;method=BYE?Route=%3Csip:192.0.2.99%3E>"
    station.ask(station.request("REGISTER", "sip:tower.example", To=f"<{TARGET}>", Contact=contact))
    network.run(1.0)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(3.0)
    came = station.requests("INVITE")[0]
    assert came.target == "sip:unit@192.0.2.11;line=2"
    assert "Route" not in came.headers


def test_a_late_answer_comes_through_when_the_callers_transaction_is_over() -> None:
    """A CANCEL is lost for good and the second one answers 31 s later; its copies outlast Timer L (RFC 6026 §7.1)."""
    network, caller, (_, late) = calling(((0.1, 180), (2.0, 200)), ((0.1, 180), (33.0, 200)))
    lost = (b"CANCEL ", b"ACK ")
    network.fate = lambda data, _, target: 0 if target == late.address and data.startswith(lost) else 1
    caller.ask(caller.request("INVITE", TARGET))
    network.run(60.0)
    copies = [(at_s, one) for at_s, one in caller.got if isinstance(one, Response) and one.is_success]
    over_s = 1.0 + 2.0 + 32.0 + 10 * DELAY_S
    assert [one.headers.to.tag for at_s, one in copies if at_s > over_s][:1] == ["tag192.0.2.12"]


def test_a_response_that_has_no_further_to_go_stops_here() -> None:
    """§16.7 step 3: with our Via taken off none is left."""
    network, caller, (station,) = calling(())
    caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    came = station.requests("INVITE")[0]
    said = response_to(came, 486, to_tag="t")
    station.send(said.with_headers(said.headers.having("Via", said.headers.values("Via")[0])))
    network.run(5.0)
    assert not caller.finals()


@pytest.mark.parametrize(
    ("target", "more"),
    [
        (TARGET, {}),  # a 2xx names a Contact; an ACK for a user is for nobody
        ("sip:unit@192.0.2.11", {"Max_Forwards": "0"}),
        ("sip:unit@elsewhere.example", {}),
        ("sip:unit@192.0.2.11", {"Proxy_Authorization": "Digest realm"}),
    ],
)
def test_an_ack_that_cannot_go_on_is_dropped_without_a_word(target: str, more: dict[str, str]) -> None:
    network = made(guard=guard(), most=1)  # full as well: an ACK is never refused
    caller, station = Station(network, 10), Station(network, 11)
    caller.send(caller.request("ACK", "sip:unit@192.0.2.11"))
    network.run(1.0)
    assert len(station.requests("ACK")) == 1
    caller.send(caller.request("ACK", target, seq=2, **more))
    network.run(2.0)
    assert len(station.got) == 1
    assert not caller.got


def guard() -> Guard:
    book = NonceBook(realm="tower.example", key=bytes(16), algorithms=("SHA-256", "MD5"))
    return Guard([UNIT], book=book, chance=chance(3), code=407)


def test_a_loop_is_told_and_a_spiral_is_not() -> None:
    """§16.3 step 4: 1204 is 1203 under this server's own address, a spiral; 1203 is 1204, and the loop is closed."""
    network, caller, (station,) = calling(((0.1, 200),))
    caller.ask(
        caller.request("REGISTER", "sip:tower.example", To="<sip:1204@tower.example>", Contact="<sip:1203@192.0.2.1>")
    )
    network.run(2.0)
    caller.ask(caller.request("INVITE", "sip:1204@tower.example"))
    network.run(5.0)
    assert [each.code for each in caller.finals()] == [200]  # through the server twice
    assert len(station.requests("INVITE")[0].headers.vias) == 3
    away = "<sip:1204@192.0.2.1>"
    station.ask(
        station.request(
            "REGISTER",
            "sip:tower.example",
            seq=9,
            To="<sip:1203@tower.example>",
            Contact=f"{away}, <sip:unit@192.0.2.11>;expires=0",
        )
    )
    network.run(7.0)
    caller.ask(caller.request("INVITE", "sip:1204@tower.example", seq=5))
    carried = network.carried
    network.run(9.0)
    assert [each.code for each in caller.finals()] == [200, 482]
    assert network.carried - carried < 30  # no storm


def test_options_for_the_server_itself_and_for_a_user() -> None:
    network, caller, (station,) = calling(())
    caller.ask(caller.request("OPTIONS", "sip:tower.example"))
    caller.ask(caller.request("OPTIONS", TARGET, seq=2))
    network.run(3.0)
    told = caller.finals("OPTIONS")
    assert [each.code for each in told] == [200, 200]
    assert told[0].headers.get("Allow") == "OPTIONS, REGISTER"
    assert len(station.requests("OPTIONS")) == 1


def test_credentials_are_asked_for_taken_and_kept_from_the_station() -> None:
    network = made(guard=guard())
    station, caller = Station(network, 11, (0.1, 200)), Station(network, 10)
    bind(network, station)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    refused = caller.finals()[0]
    assert refused.code == 407
    challenge = parse_challenge(refused.headers.all("Proxy-Authenticate")[0])
    assert challenge is not None
    told = answer(challenge, UNIT, method="INVITE", uri=TARGET, cnonce="c")
    others = str(replace(told, realm="elsewhere.example"))  # for a proxy further on (§22.3)
    asked = caller.request("INVITE", TARGET, seq=2, Proxy_Authorization=str(told))
    caller.ask(asked.with_headers(asked.headers.adding("Proxy-Authorization", others)))
    network.run(4.0)
    assert [each.code for each in caller.finals()] == [407, 200]
    assert station.requests("INVITE")[0].headers.all("Proxy-Authorization") == (others,)
    assert station.requests("ACK")


def test_challenges_of_several_stations_go_back_together() -> None:
    """§16.7 step 7."""
    network, caller, called = calling(((0.1, 401),), ((0.1, 401),))
    for station, realm in zip(called, ("one", "two"), strict=True):
        station.adds = (("WWW-Authenticate", f'Digest realm="{realm}"'),)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(3.0)
    assert sorted(caller.finals()[0].headers.all("WWW-Authenticate")) == ['Digest realm="one"', 'Digest realm="two"']


def lossy(seed: int, lost: float, doubled: float) -> Callable[[bytes, Address, Address], int]:
    draw = Random(seed)  # noqa: S311
    return lambda *_: 0 if draw.random() < lost else 2 if draw.random() < doubled else 1


@pytest.mark.parametrize("seed", range(20))
def test_a_call_comes_through_loss_and_doubling(seed: int) -> None:
    """A fifth of all datagrams is lost, a fifth doubled: still one answers, the others are cancelled, all ends."""
    rings: Plan = ((0.1, 180),)
    network, caller, called = calling(rings, ((0.1, 180), (5.0, 200)), rings)
    network.fate = lossy(seed, 0.2, 0.2)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(120.0)
    assert {each.code for each in caller.finals()} == {200}
    assert set(tags(caller.finals())) == {"tag192.0.2.12"}
    assert called[1].requests("ACK")
    assert [bool(each.requests("CANCEL")) for each in called] == [True, False, True]
    network.run(400.0)
    assert len(network.server._transactions) == 0
    assert len(network.server._proxy) == 0
    assert not network.server._proxy._branches


def test_everything_doubled_is_as_good_as_once() -> None:
    network, caller, called = calling(((0.1, 180), (2.0, 200)), ((0.1, 180),))
    network.fate = lambda *_: 2
    caller.ask(caller.request("INVITE", TARGET))
    network.run(40.0)
    told = [one for each in called for one in each.told if isinstance(one.message, Request)]
    assert [one.message.method for one in told if isinstance(one.message, Request)].count("INVITE") == 2
    assert [each.code for each in network.events if isinstance(each, Settled)] == [200]


def test_what_cannot_be_sent_counts_as_refused() -> None:
    """§16.9: an error in sending is a 503 of that branch, which goes back as 500."""
    network, caller, (station,) = calling(())
    network.fate = lambda _data, _source, target: 0 if target == station.address else 1
    caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    network.server.transport_failed(station.address, now_s=network.now_s)
    network.run(3.0)
    assert [each.code for each in caller.finals()] == [500]


def test_a_server_that_is_full_says_so_and_keeps_nothing() -> None:
    network = made(most=2)
    caller = Station(network, 10)
    for seq in range(1, 5):
        caller.send(caller.request("OPTIONS", "sip:tower.example", seq=seq))
    network.run(1.0)
    assert caller.codes("OPTIONS") == [200, 200, 503, 503]
    assert len(network.server._transactions) == 2
    network.run(40.0)  # Timer J
    caller.send(caller.request("OPTIONS", "sip:tower.example", seq=9))
    network.run(41.0)
    assert caller.codes("OPTIONS")[-1] == 200


def test_a_full_server_still_knows_the_calls_it_has() -> None:
    """A copy of a known INVITE begins nothing, so it is absorbed and not refused."""
    network = made(most=3)  # the registration, the call, and its copy to the station
    station, caller = Station(network, 11, (0.1, 180), (2.0, 200)), Station(network, 10)
    bind(network, station)
    caller.ask(caller.request("INVITE", TARGET))
    network.run(2.0)
    caller.send(caller.request("INVITE", TARGET))
    caller.send(caller.request("INVITE", TARGET, seq=2))
    network.run(10.0)
    assert [(one.code, one.headers.cseq.number) for _, one in caller.got if isinstance(one, Response)] == [
        (180, 1),
        (180, 1),  # said again to the copy (§17.2.1)
        (503, 2),
        (200, 1),
    ]


def test_events_of_a_registration() -> None:
    network, _, (station,) = calling(())
    registered = [each for each in network.events if isinstance(each, Registered)]
    assert [(each.user, [str(one.uri) for one in each.bindings]) for each in registered] == [
        ("1203", ["sip:unit@192.0.2.11"])
    ]
    network.run(3700.0)
    assert [(each.user, str(each.binding.uri)) for each in network.events if isinstance(each, Lapsed)] == [
        ("1203", "sip:unit@192.0.2.11")
    ]
    assert station.codes("REGISTER") == [200]


def test_a_faulty_request_is_answered_alike_each_time_and_a_faulty_response_dropped() -> None:
    network, caller, _ = calling(())
    bad = caller.request("INVITE", TARGET, CSeq="1 BYE")
    caller.send(bad)
    caller.send(bad)
    caller.send(b"SIP/2.0 200 OK\r\nVia: none\r\n\r\n")
    caller.send(b"\x00" * 40)
    network.run(2.0)
    answers = [one for _, one in caller.got]
    assert [one.code for one in answers if isinstance(one, Response)] == [400, 400]
    assert answers[0] == answers[1]
    assert len([each for each in network.events if isinstance(each, Faulty)]) == 4
