"""How hard a secret drawn by chance is to guess."""

from math import log2

from doorwright.kernel.calculation import calculation
from doorwright.kernel.source import Cite


@calculation("Entropy of a random secret", Cite("shannon1948", "entropy of equally likely choices"))
def entropy_bit(*, length_count: int, alphabet_count: int) -> float:
    """Return the entropy of a secret whose characters are drawn uniformly and independently.

    Formula: L·log2 N.

    Valid when: a machine drew the secret. One that a person chose is worth far less, and this says nothing of it.

    Args:
        length_count: characters (or words) in the secret.
        alphabet_count: characters (or words) that each is drawn from.

    Returns:
        Entropy, bit.
    """
    return length_count * log2(alphabet_count)
