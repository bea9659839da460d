"""Device and SIP secrets, by the policy of each profile.

Each is uniformly random, of its own, and free of characters that are mistaken for one another when they are typed from
paper. The plan holds a mark for each secret; the secrets themselves go to the vault.
"""

from collections.abc import Callable
from functools import cache
from typing import Final

from doorwright.model.label import natural_key
from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.profile import ALPHABETS, Profile, SecretPolicy
from doorwright.model.unit import SecretMark, SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft
from doorwright.plan.order import WalkingOrder

LOOK_ALIKE: Final = frozenset("0O1lI|`'\"")
"""Characters that people mistake for one another on paper; left out of what we make. Our choice."""

LENGTH_COUNT: Final = 12
"""How many characters a secret gets where its policy allows: about 70 bits from letters and digits. Our choice."""

REDRAWS_COUNT: Final = 1000
"""How often a secret that another has already is drawn again, before a policy counts as used up. Our choice."""


def plan_secrets(walk: Walk, new_id: Callable[[], str], choose: Callable[[int], int]) -> tuple[Draft, dict[str, str]]:
    """Draft marks for secrets that are still to be issued, and make the secrets.

    Args:
        walk: the way around the site.
        new_id: makes identifiers.
        choose: returns a uniformly random number from 0 up to, not including, its argument.

    Returns:
        The draft, and each new secret by the identifier of its mark.
    """
    draft = Draft(walk.site)
    made: dict[str, str] = {}
    used: set[str] = set()
    sharing: list[Part] = []
    line = max((mark.line for mark in walk.all(SecretMark)), default=0)
    for owner, use, policy in wanting_secrets(walk):
        line += 1
        mark = SecretMark(id=new_id(), owner=owner.id, use=use, line=line)
        draft.add(mark, what=use.value, value=f"sealed sheet line {line}", why=f"for {owner.label}, by its profile")
        made[mark.id] = _unused(policy, choose, used)
        if made[mark.id] in used:
            sharing.append(owner)
        used.add(made[mark.id])
    if sharing:
        draft.trouble(
            sharing,
            f"{len(sharing)} secrets are the same as another: the types' policies allow too few",
            "Allow longer secrets in the profile, if the units take them.",
        )
    return draft, made


def _unused(policy: SecretPolicy, choose: Callable[[int], int], used: set[str]) -> str:
    # Short policies repeat themselves soon: of 4 096 secrets of four digits, 100 drawn share one more often than not.
    for _ in range(REDRAWS_COUNT):
        secret = make_secret(policy, choose)
        if secret not in used:
            break
    return secret


def wanting_secrets(walk: Walk) -> list[tuple[Part, SecretUse, SecretPolicy]]:
    """Return every secret that a profile asks for and that is not issued, in walking order."""
    owners: list[Unit | Switch] = [*WalkingOrder(walk).units(walk.all(Unit))]
    owners += sorted(walk.all(Switch), key=lambda switch: natural_key(switch.name))
    wanting: list[tuple[Part, SecretUse, SecretPolicy]] = []
    for owner in owners:
        profile = walk.profile(owner.profile)
        if profile is None:
            continue
        issued = {mark.use for mark in walk.secrets_of(owner.id)}
        wanting += [(owner, use, policy) for use, policy in _policies(profile) if use not in issued]
    return wanting


def _policies(profile: Profile) -> list[tuple[SecretUse, SecretPolicy]]:
    both = ((SecretUse.DEVICE, profile.device_secret), (SecretUse.SIP, profile.sip_secret))
    return [(use, policy) for use, policy in both if policy is not None]


def make_secret(policy: SecretPolicy, choose: Callable[[int], int]) -> str:
    """Return a new secret that fits a policy: one random number, written with the policy's characters as digits."""
    alphabet = _characters(policy.alphabet)
    length = min(policy.length_max_count, max(policy.length_min_count, LENGTH_COUNT))
    number = choose(len(alphabet) ** length)
    characters: list[str] = []
    for _ in range(length):
        number, digit = divmod(number, len(alphabet))
        characters.append(alphabet[digit])
    return "".join(characters)


@cache
def _characters(alphabet: str) -> str:
    return "".join(character for character in ALPHABETS[alphabet] if character not in LOOK_ALIKE)
