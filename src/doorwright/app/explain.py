"""Find a rule by its identifier."""

from difflib import get_close_matches

from doorwright.kernel.errors import Refused
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.rules.rule import Rule


def explain(rule: str) -> Rule:
    """Return the rule of this identifier.

    Raises:
        Refused: there is none; the nearest is suggested.
    """
    if rule not in RULE_BY_ID:
        near = get_close_matches(rule, RULE_BY_ID, n=1)
        remedy = f"Did you mean {near[0]}?" if near else "All rules: doorwright explain"
        raise Refused(f"there is no rule {rule!r}", remedy=remedy)
    return RULE_BY_ID[rule]
