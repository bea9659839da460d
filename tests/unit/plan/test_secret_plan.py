"""Secrets: their policy, that each is its own, and what is left out of them."""

import math
from random import Random

import pytest

from doorwright.model.profile import ALPHABETS, SecretPolicy
from doorwright.model.unit import SecretMark, SecretUse
from doorwright.model.walk import Walk
from doorwright.plan.secrets import LOOK_ALIKE, make_secret, plan_secrets, wanting_secrets
from tests.unit.plan.block import block, new_ids, planned, plus, set_profile, switch

ONE = {"A": {1: ["1"]}}


def chance() -> Random:
    return Random(11)  # noqa: S311  (a test says the same each time; what it makes is no secret)


@pytest.mark.parametrize("alphabet", list(ALPHABETS))
@pytest.mark.parametrize(("least", "most", "length"), [(4, 6, 6), (8, 16, 12), (14, 20, 14), (12, 12, 12)])
def test_a_secret_fits_its_policy_and_twelve_characters_where_it_may(
    alphabet: str, least: int, most: int, length: int
) -> None:
    policy = SecretPolicy(length_min_count=least, length_max_count=most, alphabet=alphabet)
    secret = make_secret(policy, chance().randrange)
    assert len(secret) == length
    assert set(secret) <= set(ALPHABETS[alphabet]) - LOOK_ALIKE


def test_every_character_that_may_stand_in_a_secret_does() -> None:
    policy = SecretPolicy(length_min_count=1, length_max_count=1, alphabet="letters and digits")
    drawn: set[str] = set()
    for number in range(62):
        drawn.add(make_secret(policy, lambda below, number=number: number % below))  # type: ignore[misc]
    # 62 letters and digits without 0 O 1 l I: 57
    assert len(drawn) == 57
    assert drawn.isdisjoint("0O1lI")


def test_twelve_letters_and_digits_carry_seventy_bits() -> None:
    # entropy of a uniformly random secret: L * log2 N = 12 * log2 57 = 69.99 (57 = 62 less five look-alikes)
    below: list[int] = []

    def choose(limit: int) -> int:
        below.append(limit)
        return 0

    make_secret(SecretPolicy(length_min_count=8, length_max_count=16, alphabet="letters and digits"), choose)
    assert sum(math.log2(limit) for limit in below) == pytest.approx(69.99, abs=0.005)


def test_each_unit_and_switch_gets_what_its_profile_asks_for() -> None:
    plan = planned(plus(block(ONE), switch("S")))
    uses = {(mark.owner, mark.use) for mark in plan.site.secrets}
    both = {(owner, use) for owner in ("vcu A", "uru A/1") for use in SecretUse}
    assert uses == both | {("S", SecretUse.DEVICE)}
    assert set(plan.secrets) == {mark.id for mark in plan.site.secrets}
    assert len(set(plan.secrets.values())) == len(plan.secrets)


def test_lines_go_on_from_the_last_and_issued_secrets_stay() -> None:
    mark = SecretMark(id="m", owner="uru A/1", use=SecretUse.DEVICE, line=7)
    plan = planned(plus(block(ONE), mark))
    assert mark in plan.site.secrets
    assert sorted(one.line for one in plan.site.secrets) == [7, 8, 9, 10]
    assert "m" not in plan.secrets


def test_short_secrets_do_not_repeat() -> None:
    # four digits without 0 and 1: 8^4 = 4 096; drawn blindly, 100 of them share one in seven cases of ten
    labels = {"A": {1: [str(number) for number in range(1, 101)]}}
    policy = SecretPolicy(length_min_count=4, length_max_count=4, alphabet="digits")
    site = set_profile(block(labels), "uru-video", device_secret=policy, sip_secret=None)
    _, made = plan_secrets(Walk(site), new_ids(), chance().randrange)
    short = [secret for secret in made.values() if len(secret) == 4]
    assert len(short) == len(set(short)) == 100


def test_a_policy_that_is_used_up_is_told_of() -> None:
    # one digit without 0 and 1: eight secrets for nine units
    labels = {"A": {1: [str(number) for number in range(1, 10)]}}
    policy = SecretPolicy(length_min_count=1, length_max_count=1, alphabet="digits")
    site = set_profile(block(labels), "uru-video", device_secret=policy, sip_secret=None)
    draft, made = plan_secrets(Walk(site), new_ids(), chance().randrange)
    assert len({secret for secret in made.values() if len(secret) == 1}) == 8
    (trouble,) = draft.troubles
    assert len(trouble.subjects) == 1


def test_no_issue_and_no_trouble_shows_a_secret() -> None:
    plan = planned(block(ONE))
    told = repr((plan, plan.changes, plan.issues, plan.troubles, plan.site))
    assert all(secret not in told for secret in plan.secrets.values())


def test_units_of_unknown_type_want_none() -> None:
    assert wanting_secrets(Walk(plus(block({}), switch("S", "unheard-of")))) == []
