"""How hard is a secret to guess that follows a unit type's policy?"""

from dataclasses import dataclass
from typing import Final

from doorwright.calc import secrets
from doorwright.kernel.verdict import Missing, Subject
from doorwright.model.profile import ALPHABETS, SecretPolicy
from doorwright.studies.study import Study, Trail

TITLE: Final = "Strength of a random secret"


@dataclass(frozen=True, slots=True, kw_only=True)
class SecretStrength:
    """The entropy of a secret drawn by chance, at the shortest and the longest that the policy allows.

    It is an upper bound: a maker of secrets that leaves out characters of the alphabet gives a little less.
    """

    alphabet_count: int
    shortest_count: int
    longest_count: int
    shortest_bit: float
    longest_bit: float


def secret_strength(policy: SecretPolicy) -> Study[SecretStrength]:
    """Study the entropy that a policy leaves room for. Its subject is the policy, described by its own words."""
    subject = Subject("secret policy", f"{policy.length_min_count} to {policy.length_max_count} of {policy.alphabet}")
    characters = ALPHABETS.get(policy.alphabet)
    if characters is None:
        return Study(subject, TITLE, missing=(Missing("secret policy", "alphabet"),))
    trail = Trail()
    alphabet_count = len(characters)
    value = SecretStrength(
        alphabet_count=alphabet_count,
        shortest_count=policy.length_min_count,
        longest_count=policy.length_max_count,
        shortest_bit=trail.run(
            secrets.entropy_bit, length_count=policy.length_min_count, alphabet_count=alphabet_count
        ),
        longest_bit=trail.run(secrets.entropy_bit, length_count=policy.length_max_count, alphabet_count=alphabet_count),
    )
    return Study(subject, TITLE, value, steps=trail.steps)
