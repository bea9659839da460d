"""Both sides of a challenge: the nonce book, and whoever answers it."""

from collections.abc import Callable
from dataclasses import replace
from random import Random

import pytest

from doorwright.sip.challenged import Answerer
from doorwright.sip.digest import Account, Challenge, Credentials, answer, parse_challenge, parse_credentials
from doorwright.sip.errors import LocalError
from doorwright.sip.nonces import Accounts, Judged, NonceBook


def person(username: str, word: str, realm: str | None = None) -> Account:
    return Account(username=username, password=word, realm=realm)


def chance(seed: int) -> Callable[[int], bytes]:
    return Random(seed).randbytes  # noqa: S311


REALM = "tower.example"
UNIT = person("1203", "a long password")
ACCOUNTS = Accounts([UNIT, person("Jäsøn", "q", REALM)], realm=REALM)
URI = "sip:tower.example"


def book(**changes: object) -> NonceBook:
    return NonceBook(realm=REALM, key=bytes(range(16)), **changes)  # type: ignore[arg-type]


def judged(by: NonceBook, told: Credentials | None, *, now_s: float, body: bytes = b"", uri: str = URI) -> Judged:
    assert told is not None
    return by.judge(told, method="REGISTER", uri=uri, body=body, now_s=now_s, accounts=ACCOUNTS)


def told_to(challenge: Challenge, account: Account = UNIT, *, count: int = 1, body: bytes = b"") -> Credentials:
    made = answer(challenge, account, method="REGISTER", uri=URI, body=body, cnonce="c", count=count)
    read = parse_credentials(str(made))  # as it arrives
    assert read == made
    return made


def test_right_credentials_are_right_once() -> None:
    here = book()
    for challenge in here.challenges(now_s=0.0, chance=chance(1)):
        told = told_to(challenge)
        assert judged(here, told, now_s=1.0).account == UNIT
        again = judged(here, told, now_s=1.0)
        assert again.account is None
        assert again.stale  # the password was right: a new nonce will do
        assert judged(here, told_to(challenge, count=2), now_s=1.0).account == UNIT


def test_counts_may_overtake_each_other_within_the_window_but_each_is_taken_once() -> None:
    here = book()
    challenge = here.challenges(now_s=0.0, chance=chance(2))[0]
    order = [5, 1, 4, 2, 3, 70, 7, 6, 200]
    # 70 moves the window of 64 to 7..70: 7 is still new there, 6 is too far behind
    expected = [True, True, True, True, True, True, True, False, True]
    assert [judged(here, told_to(challenge, count=each), now_s=1.0).account is UNIT for each in order] == expected
    assert all(judged(here, told_to(challenge, count=each), now_s=1.0).account is None for each in order)


def test_a_nonce_lives_as_long_as_it_was_given() -> None:
    here = book(lifetime_s=60.0)
    challenge = here.challenges(now_s=1000.0, chance=chance(3))[0]
    assert judged(here, told_to(challenge), now_s=1059.9).account == UNIT
    late = judged(here, told_to(challenge, count=2), now_s=1060.0)
    assert (late.account, late.stale) == (None, True)
    wrong = told_to(challenge, person("1203", "guess"), count=3)
    assert not judged(here, wrong, now_s=1060.0).stale  # RFC 7616 §3.3: stale only where the digest was right


def test_a_nonce_of_another_book_is_stale_and_a_made_up_one_too() -> None:
    here, other = book(), NonceBook(realm=REALM, key=bytes(16))
    challenge = other.challenges(now_s=0.0, chance=chance(4))[0]
    assert judged(here, told_to(challenge), now_s=1.0) == judged(
        here, told_to(Challenge(realm=REALM, nonce="ä", algorithm="SHA-256", qops=("auth",))), now_s=1.0
    )
    assert judged(here, told_to(challenge), now_s=1.0).stale


def test_a_nonce_given_for_a_strong_hash_is_not_taken_with_a_weak_one() -> None:
    here = book(algorithms=("SHA-256", "MD5"))
    strong, _ = here.challenges(now_s=0.0, chance=chance(5))
    weakened = told_to(Challenge(realm=REALM, nonce=strong.nonce, algorithm="MD5", qops=("auth",)))
    assert judged(here, weakened, now_s=1.0).account is None
    only = book(algorithms=("SHA-256",))
    assert "algorithm" in judged(only, weakened, now_s=1.0).problem


@pytest.mark.parametrize(
    ("challenge", "problem"),
    [
        (Challenge(realm="elsewhere", nonce="n", algorithm="MD5", qops=("auth",)), "realm"),
        (Challenge(realm=REALM, nonce="n", algorithm="SHA-512-256", qops=("auth",)), "algorithm"),
        (Challenge(realm=REALM, nonce="n", algorithm="MD5"), "quality"),  # qop left out: the older, weaker form
        (Challenge(realm=REALM, nonce="n", algorithm="MD5", qops=("auth-int",)), "quality"),
    ],
)
def test_what_was_not_offered_is_not_taken(challenge: Challenge, problem: str) -> None:
    verdict = judged(book(), told_to(challenge), now_s=1.0)
    assert problem in verdict.problem
    assert not verdict.stale


def test_a_quality_goes_with_a_cnonce_and_a_count_from_1_on() -> None:
    here = book()
    told = told_to(here.challenges(now_s=0.0, chance=chance(12))[0])
    for broken in (
        replace(told, cnonce=None),
        replace(told, cnonce=""),
        replace(told, count=None),
        replace(told, count=0),
    ):
        assert "cnonce" in judged(here, broken, now_s=1.0).problem


def test_a_nonce_cut_short_is_not_one_of_the_book() -> None:
    here = book()
    for nonce in ("", "AAAA", here.challenges(now_s=0.0, chance=chance(13))[0].nonce[:-4]):
        told = told_to(Challenge(realm=REALM, nonce=nonce, algorithm="SHA-256", qops=("auth",)))
        assert judged(here, told, now_s=0.0) == Judged(problem="the nonce is over or not of this book", stale=True)


def test_the_older_form_without_a_quality_is_taken_where_it_is_the_one_offered() -> None:
    here = book(qops=())
    told = told_to(here.challenges(now_s=0.0, chance=chance(14))[0])
    assert (told.qop, told.count) == (None, None)
    assert judged(here, told, now_s=1.0).account == UNIT
    assert judged(here, told, now_s=300.0).stale


def test_credentials_for_another_uri_are_not_taken_unless_it_is_the_same_in_other_words() -> None:
    here = book()
    challenge = here.challenges(now_s=0.0, chance=chance(6))[0]
    assert "URI" in judged(here, told_to(challenge), now_s=1.0, uri="sip:other.example").problem
    verdict = here.judge(
        told_to(challenge),
        method="REGISTER",
        uri="SIP:tower.example",
        now_s=1.0,
        accounts=ACCOUNTS,
        same_uri=lambda one, other: one.lower() == other.lower(),
    )
    assert verdict.account == UNIT


def test_the_body_is_part_of_it_with_auth_int() -> None:
    here = book(qops=("auth-int",))
    challenge = here.challenges(now_s=0.0, chance=chance(7))[0]
    assert judged(here, told_to(challenge, body=b"open"), now_s=1.0, body=b"shut").account is None
    assert judged(here, told_to(challenge, body=b"open"), now_s=1.0, body=b"open").account == UNIT


def test_names_come_plain_extended_and_hashed() -> None:
    guest = person("Jäsøn", "q", REALM)
    here = book(userhash=True)
    challenge = here.challenges(now_s=0.0, chance=chance(8))[0]
    hidden = told_to(challenge, guest)
    assert hidden.userhash
    assert judged(here, hidden, now_s=1.0).account == guest
    open_ones = book()
    for seed, charset in enumerate((None, "UTF-8")):
        nonce = open_ones.challenges(now_s=0.0, chance=chance(seed))[0].nonce
        told = told_to(Challenge(realm=REALM, nonce=nonce, algorithm="SHA-256", qops=("auth",), charset=charset), guest)
        assert told.extended is (charset is not None)
        assert judged(open_ones, told, now_s=1.0).account == guest
    nobody = person("nobody", "q")
    assert judged(here, told_to(challenge, nobody), now_s=1.0).account is None


def test_another_user_s_counts_are_its_own() -> None:
    here = book()
    challenge = here.challenges(now_s=0.0, chance=chance(10))[0]
    guest = person("Jäsøn", "q")
    assert judged(here, told_to(challenge, guest, count=0xFFFFFFFF), now_s=1.0).account is not None
    assert judged(here, told_to(challenge), now_s=1.0).account == UNIT


def test_unanswered_challenges_cost_no_memory_and_old_counts_go() -> None:
    here = book(lifetime_s=10.0)
    octets = chance(11)
    for second in range(100):
        here.challenges(now_s=float(second), chance=octets)
        used = here.challenges(now_s=float(second), chance=octets)[0]
        assert judged(here, told_to(used), now_s=float(second)).account == UNIT
    assert len(here._counts) == 10  # those of 90 to 99: at 99 the one of 89 is over


def test_a_book_is_not_opened_with_what_it_cannot_do() -> None:
    for changes in ({"lifetime_s": 0.0}, {"algorithms": ("X-9",)}, {"algorithms": ()}, {"qops": ("auth-conf",)}):
        with pytest.raises(LocalError):
            book(**changes)
    with pytest.raises(LocalError):
        book(qops=(), algorithms=("MD5-sess",))
    with pytest.raises(LocalError):
        NonceBook(realm=REALM, key=b"short")


def exchange(unit: Answerer, here: NonceBook, *, code: int = 401, now_s: float = 0.0, seed: int = 1) -> bool:
    offered = [str(each) for each in here.challenges(now_s=now_s, chance=chance(seed))]
    return unit.challenged(code, offered)


def test_a_unit_registers_and_uses_its_nonce_on() -> None:
    here, unit = book(), Answerer([UNIT])
    assert unit.headers(method="REGISTER", uri=URI, chance=chance(1)) == ()
    assert exchange(unit, here)
    cnonces = set()
    for count in (1, 2, 3):
        ((name, value),) = unit.headers(method="REGISTER", uri=URI, chance=chance(2))
        told = parse_credentials(value)
        assert told is not None
        assert (name, told.count) == ("Authorization", count)
        assert judged(here, told, now_s=1.0).account == UNIT
        cnonces.add(told.cnonce)
    assert cnonces == {chance(2)(16).hex()}  # one for the whole session


def test_a_proxy_and_a_server_are_answered_side_by_side() -> None:
    server, proxy = book(), NonceBook(realm="proxy.example", key=bytes(16))
    unit = Answerer([UNIT, person("p", "p", "proxy.example")])
    assert exchange(unit, proxy, code=407)
    assert exchange(unit, server, code=401)
    told = unit.headers(method="INVITE", uri="sip:1@x", chance=chance(3))
    assert [name for name, _ in told] == ["Proxy-Authorization", "Authorization"]
    names = [read.username for _, value in told if (read := parse_credentials(value))]
    assert names == ["p", "1203"]  # the account of the realm goes before that of any realm


def test_two_proxies_challenge_in_turn() -> None:
    """RFC 3665 §3.3: the second INVITE answers the first proxy, the third answers both."""
    unit = Answerer([UNIT])
    first = NonceBook(realm="first.example", key=bytes(16), algorithms=("MD5",))
    second = NonceBook(realm="second.example", key=bytes(16), algorithms=("MD5",))
    assert exchange(unit, first, code=407)
    sent = [value for _, value in unit.headers(method="INVITE", uri="sip:1@x", chance=chance(1))]
    offered = [str(each) for each in second.challenges(now_s=0.0, chance=chance(2))]
    assert unit.challenged(407, offered, sent=sent)
    told = unit.headers(method="INVITE", uri="sip:1@x", chance=chance(1))
    realms = [read.realm for _, value in told if (read := parse_credentials(value))]
    assert realms == ["first.example", "second.example"]


def test_a_refused_password_is_not_tried_again_but_a_stale_nonce_is() -> None:
    here, unit = book(), Answerer([UNIT])
    assert exchange(unit, here)
    sent = [value for _, value in unit.headers(method="REGISTER", uri=URI, chance=chance(1))]
    fresh = [str(each) for each in here.challenges(now_s=5.0, chance=chance(2), stale=True)]
    assert unit.challenged(401, fresh, sent=sent)
    refused = [str(each) for each in here.challenges(now_s=5.0, chance=chance(3))]
    sent = [value for _, value in unit.headers(method="REGISTER", uri=URI, chance=chance(1))]
    assert not unit.challenged(401, refused, sent=sent)
    assert unit.headers(method="REGISTER", uri=URI, chance=chance(1)) == ()


def test_a_server_that_restarted_without_saying_stale_is_answered_once_more() -> None:
    here, unit = book(), Answerer([UNIT])
    assert exchange(unit, here)
    for _ in range(2):
        sent = [value for _, value in unit.headers(method="REGISTER", uri=URI, chance=chance(1))]
    offered = [str(each) for each in here.challenges(now_s=5.0, chance=chance(2))]
    assert unit.challenged(401, offered, sent=sent)  # the nonce had been good: nc was 2
    sent = [value for _, value in unit.headers(method="REGISTER", uri=URI, chance=chance(1))]
    assert not unit.challenged(401, offered, sent=sent)


def test_what_nobody_can_answer_is_not_tried() -> None:
    unit = Answerer([person("u", "p", "mine.example")])
    good = 'Digest realm="mine.example", nonce="1"'
    assert unit.challenged(401, [good, 'Digest realm="mine.example"', 'Basic realm="other"'])  # one is enough
    assert not unit.challenged(401, ['Digest realm="other.example", nonce="1"'])
    assert not unit.challenged(401, [good, 'Digest realm="x", nonce="1", algorithm=X-9'])
    assert not unit.challenged(401, [])
    with pytest.raises(LocalError):
        unit.challenged(403, [good])


def test_a_nonce_whose_counts_are_used_up_is_given_up() -> None:
    unit = Answerer([UNIT])
    assert exchange(unit, book())
    ((place, held),) = unit._held.items()
    unit._held[place] = replace(held, count=0xFFFFFFFF)
    assert unit.headers(method="REGISTER", uri=URI, chance=chance(1)) == ()


def test_the_challenges_are_in_the_order_that_was_asked_for() -> None:
    offered = book(algorithms=("SHA-512-256", "SHA-256", "MD5")).challenges(now_s=0.0, chance=chance(1))
    assert [each.algorithm for each in offered] == ["SHA-512-256", "SHA-256", "MD5"]
    assert all(parse_challenge(str(each)) == each for each in offered)
    assert len({each.nonce for each in offered}) == 3
