"""The registrar by the flows of RFC 3665 §2 and the rules of RFC 3261 §10.3. Times are seconds of a made-up clock."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from doorwright.sip.digest import Account, answer, parse_challenge
from doorwright.sip.errors import LocalError
from doorwright.sip.guard import Guard, same_target
from doorwright.sip.headers import Headers
from doorwright.sip.message import Request, Response
from doorwright.sip.nonces import NonceBook
from doorwright.sip.registrar import Limits, Registrar

HERE = "tower.example"
DESK = "<sip:1203@192.0.2.11>"
HALL = "<sip:1203@192.0.2.12:5070;line=2>"
OWN = Account(username="1203", password="a long one")  # noqa: S106
OTHER = Account(username="1204", password="another one")  # noqa: S106


def chance(seed: int) -> Callable[[int], bytes]:
    return Random(seed).randbytes  # noqa: S311


def registrar(*, guarded: bool = False, algorithms: tuple[str, ...] = ("SHA-256", "MD5"), **limits: int) -> Registrar:
    book = NonceBook(realm=HERE, key=bytes(range(16)), algorithms=algorithms)
    guard = Guard([OWN, OTHER], book=book, chance=chance(1)) if guarded else None
    return Registrar(domains=[HERE, "192.0.2.1"], users=["1203", "1204"], guard=guard, limits=Limits(**limits))


def register(
    *contacts: str, seq: int = 1, call_id: str = "one", to: str = f"sip:1203@{HERE}", **more: str | None
) -> Request:
    headers = {
        "Via": "SIP/2.0/UDP 192.0.2.11;branch=z9hG4bKnashds7",
        "Max-Forwards": "70",
        "From": f"<{to}>;tag=a73kszlfl",
        "To": f"<{to}>",
        "Call-ID": call_id,
        "CSeq": f"{seq} REGISTER",
        **{name.replace("_", "-"): value for name, value in more.items()},
    }
    pairs = [(name, value) for name, value in headers.items() if value is not None]
    return Request("REGISTER", f"sip:{HERE}", Headers([*pairs, *(("Contact", each) for each in contacts)]))


def told(by: Registrar, request: Request, *, now_s: float = 0.0) -> tuple[int, tuple[str, ...]]:
    response = by.answer(request, now_s=now_s, to_tag="37GkEhwl6")
    assert response.headers.to.tag == "37GkEhwl6"
    return response.code, response.headers.all("Contact")


def signed(request: Request, response: Response, account: Account = OWN, *, which: int = 0, count: int = 1) -> Request:
    challenge = parse_challenge(response.headers.all("WWW-Authenticate")[which])
    assert challenge is not None
    made = answer(challenge, account, method="REGISTER", uri=request.target, cnonce="c", count=count)
    return request.with_headers(request.headers.adding("Authorization", str(made)))


def test_new_registration_change_query_and_removal() -> None:
    """RFC 3665 §2.1 to §2.4, each request answering the first challenge with the next count."""
    by = registrar(guarded=True)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    assert (refused.code, len(refused.headers.all("WWW-Authenticate"))) == (401, 2)  # §2.1 F2
    assert told(by, signed(register(DESK, seq=2), refused), now_s=1.0) == (200, (f"{DESK};expires=3600",))  # F4
    also = signed(register("<mailto:1203@tower.example>", seq=3), refused, count=2)
    assert told(by, also, now_s=2.0) == (200, (f"{DESK};expires=3599", "<mailto:1203@tower.example>;expires=3600"))
    query = signed(register(seq=4), refused, count=3)  # §2.3
    assert told(by, query, now_s=2.0) == (200, (f"{DESK};expires=3599", "<mailto:1203@tower.example>;expires=3600"))
    gone = signed(register("*", seq=5, Expires="0"), refused, count=4)  # §2.4
    assert told(by, gone, now_s=3.0) == (200, ())
    assert by.bindings_of("1203", now_s=3.0) == ()


def test_a_wrong_password_is_challenged_again_and_binds_nothing() -> None:
    """RFC 3665 §2.5."""
    by = registrar(guarded=True)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    wrong = replace(OWN, password=OTHER.password)
    again = by.answer(signed(register(DESK, seq=2), refused, wrong), now_s=1.0, to_tag="t")
    assert again.code == 401
    assert all(
        challenge and not challenge.stale for challenge in map(parse_challenge, again.headers.all("WWW-Authenticate"))
    )
    assert by.bindings_of("1203", now_s=1.0) == ()


def test_algorithms_are_offered_in_the_order_wanted_and_each_is_taken() -> None:
    """RFC 8760 §2.3: one header for each, the most wanted on top."""
    wanted = ("SHA-512-256", "SHA-256", "MD5")
    by = registrar(guarded=True, algorithms=wanted)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    offered = [parse_challenge(line) for line in refused.headers.all("WWW-Authenticate")]
    assert [each.algorithm for each in offered if each] == list(wanted)
    for which in range(3):
        assert told(by, signed(register(DESK, seq=2 + which), refused, which=which), now_s=1.0)[0] == 200


def test_an_old_nonce_is_told_to_be_stale_and_a_replay_changes_nothing() -> None:
    by = registrar(guarded=True)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    request = signed(register(DESK, seq=2), refused)
    assert told(by, request, now_s=1.0)[0] == 200
    for now_s in (2.0, 301.0):  # the count used before; then after the 300 s of a nonce
        again = by.answer(request, now_s=now_s, to_tag="t")
        assert again.code == 401
        assert all(each and each.stale for each in map(parse_challenge, again.headers.all("WWW-Authenticate")))


def test_one_stale_answer_among_several_is_enough_to_say_so() -> None:
    by = registrar(guarded=True)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    request = signed(register(DESK, seq=2), refused)
    request = signed(request, refused, replace(OWN, password=OTHER.password), which=1)
    again = by.answer(request, now_s=301.0, to_tag="t")
    assert all(each and each.stale for each in map(parse_challenge, again.headers.all("WWW-Authenticate")))


def test_an_account_registers_nobody_else() -> None:
    by = registrar(guarded=True)
    refused = by.answer(register(DESK), now_s=0.0, to_tag="t")
    assert told(by, signed(register(DESK, seq=2), refused, OTHER), now_s=1.0)[0] == 403  # §10.3 step 4


@pytest.mark.parametrize("line", ['Digest username="1203', 'Digest realm="tower.example"'])
def test_credentials_that_cannot_be_read_are_a_bad_request(line: str) -> None:
    assert told(registrar(guarded=True), register(DESK, Authorization=line))[0] == 400


def test_credentials_of_another_scheme_or_realm_count_as_none() -> None:
    by = registrar(guarded=True)
    foreign = 'Digest username="1203", realm="elsewhere", nonce="n", uri="sip:tower.example", response="0"'
    for line in ("Basic MTIwMzpx", foreign):
        assert told(by, register(DESK, Authorization=line))[0] == 401


def test_the_address_in_credentials_may_be_spelt_as_the_comparison_allows() -> None:
    assert same_target("sip:tower.example", "sip:TOWER.example")  # §19.1.4: hosts are blind to case
    assert not same_target("sip:tower.example", "sip:tower.example:5060")  # §19.1.4 says so
    assert not same_target("no address", "sip:tower.example")


@pytest.mark.parametrize(
    ("contact", "expires", "granted"),
    [
        (DESK, None, 3600),  # the registrar's own
        (DESK, "600", 600),  # §10.2.1.1: the header
        (f"{DESK};expires=120", "600", 120),  # the parameter goes before the header
        (DESK, "90000", 3600),  # cut to the longest
        (f"{DESK};expires=soon", None, 3600),  # RFC 4475 §3.1.2.4
        (f"{DESK};expires=60", None, 60),  # the shortest itself is not too brief
    ],
)
def test_the_time_asked_for_is_granted_within_limits(contact: str, expires: str | None, granted: int) -> None:
    by = registrar()
    assert told(by, register(contact, Expires=expires)) == (200, (f"{DESK};expires={granted}",))
    assert by.bindings_of("1203", now_s=granted - 0.01)
    assert not by.bindings_of("1203", now_s=granted)


def test_too_brief_a_time_is_refused_with_the_least_and_binds_nothing() -> None:
    by = registrar()
    response = by.answer(register(HALL, f"{DESK};expires=59"), now_s=0.0, to_tag="t")
    assert (response.code, response.headers.get("Min-Expires")) == (423, "60")
    assert by.bindings_of("1203", now_s=0.0) == ()


def test_a_contact_is_renewed_removed_and_compared_as_an_address() -> None:
    by = registrar()
    told(by, register(DESK, HALL))
    assert told(by, register("<sip:1203@192.0.2.11;x=1>", seq=2), now_s=10.0) == (
        200,
        ("<sip:1203@192.0.2.11;x=1>;expires=3600", f"{HALL};expires=3590"),  # §19.1.4: the same address, renewed
    )
    assert told(by, register(f"{HALL};expires=0", seq=3), now_s=10.0)[1] == ("<sip:1203@192.0.2.11;x=1>;expires=3600",)
    assert told(by, register("<sip:nobody@192.0.2.99>;expires=0", seq=4), now_s=10.0)[0] == 200  # nothing to remove


def test_what_was_overtaken_changes_nothing() -> None:
    """§10.3 steps 6 and 7: within a Call-ID only a higher CSeq; with another Call-ID (after a restart) any."""
    by = registrar()
    told(by, register(DESK, seq=5))
    for request in (
        register(f"{DESK};expires=0", seq=5),
        register(HALL, DESK, seq=4),  # HALL alone would be welcome: all or nothing
        register("*", seq=4, Expires="0"),
    ):
        assert told(by, request)[0] == 500
        assert [str(each.uri) for each in by.bindings_of("1203", now_s=0.0)] == [DESK[1:-1]]
    assert told(by, register(f"{DESK};expires=300", seq=1, call_id="two"))[1] == (f"{DESK};expires=300",)


def test_a_contact_named_twice_is_bound_once_as_named_last() -> None:
    assert told(registrar(), register(f"{DESK};expires=90", f"{DESK};expires=120"))[1] == (f"{DESK};expires=120",)


def test_no_more_bindings_than_allowed() -> None:
    by = registrar(bindings=2)
    assert told(by, register(DESK, HALL))[0] == 200
    assert told(by, register("<sip:1203@192.0.2.13>", seq=2))[0] == 403
    assert told(by, register("<sip:1203@192.0.2.13>", f"{DESK};expires=0", seq=3))[0] == 200  # in its place
    assert len(by.bindings_of("1203", now_s=0.0)) == 2


def test_bindings_stand_by_preference_then_by_age() -> None:
    by = registrar()
    told(by, register(f"{DESK};q=0.5", HALL, "<sip:1203@192.0.2.13>;q=1.0", "<sip:1203@192.0.2.14>;q=0.55"))
    order = [(each.uri.host, each.q) for each in by.bindings_of("1203", now_s=0.0)]  # type: ignore[union-attr]
    assert order == [("192.0.2.12", 1000), ("192.0.2.13", 1000), ("192.0.2.14", 550), ("192.0.2.11", 500)]


@pytest.mark.parametrize("q", ["2", "1.001", "0.1234", "-1", "high"])
def test_a_q_that_is_none_is_a_bad_request(q: str) -> None:
    assert told(registrar(), register(f"{DESK};q={q}"))[0] == 400


@pytest.mark.parametrize(
    ("change", "code"),
    [
        ({"to": f"sip:9999@{HERE}"}, 404),  # §10.3 step 5
        ({"to": "sip:1203@elsewhere.example"}, 404),
        ({"to": "tel:+1"}, 400),  # §10.3: no address of ours
        ({"Require": "outbound"}, 420),  # §10.3 step 2
    ],
)
def test_what_a_registrar_refuses(change: dict[str, str], code: int) -> None:
    assert told(registrar(), register(DESK, **change))[0] == code  # type: ignore[arg-type]


def test_the_star_needs_a_time_of_nought() -> None:
    """§10.3 step 6."""
    by = registrar()
    for request in (register("*"), register("*", Expires="1")):
        assert told(by, request)[0] == 400


def test_one_user_under_all_names_of_the_server() -> None:
    by = registrar()
    told(by, register(DESK, to="sip:1203@192.0.2.1:5060;user=ip"))
    assert told(by, register(to=f"sip:%31203@{HERE.upper()}"))[1] == (f"{DESK};expires=3600",)  # §10.3 step 5: escapes


def test_what_is_over_is_told_once_and_the_timer_follows() -> None:
    by = registrar()
    assert by.timer_at() is None
    told(by, register(f"{DESK};expires=100", f"{HALL};expires=200"))
    assert by.timer_at() == 100.0
    assert [(user, each.until_s) for user, each in by.handle_timer(150.0)] == [("1203", 100.0)]
    assert by.timer_at() == 200.0
    assert by.handle_timer(199.0) == ()
    assert len(by.handle_timer(200.0)) == 1
    assert by.timer_at() is None


def test_renewing_for_ever_keeps_the_state_small() -> None:
    by = registrar()
    for seq in range(1, 2000):
        told(by, register(DESK, seq=seq), now_s=float(seq))
    assert len(by.bindings_of("1203", now_s=2000.0)) == 1
    assert len(by._ends) < 100
    assert by.handle_timer(1999.0 + 3600.0)[0][1].cseq == 1999


def test_limits_that_make_no_sense_are_ours() -> None:
    for limits in ({"shortest_s": 0}, {"shortest_s": 3601}, {"longest_s": 59}, {"bindings": 0}):
        with pytest.raises(LocalError):
            Limits(**limits)
