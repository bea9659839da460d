"""The whole plan: every planner in turn, each on what the ones before it left."""

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Final

from doorwright.model.change import Changes, apply
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.addressing import plan_addresses
from doorwright.plan.draft import Draft, Issue, Trouble
from doorwright.plan.groups import plan_groups
from doorwright.plan.keys import plan_keys
from doorwright.plan.numbering import plan_numbers
from doorwright.plan.ports import plan_ports
from doorwright.plan.secrets import plan_secrets, wanting_secrets

Progress = Callable[[str], None]
"""Called with the name of each step as it begins."""

Planner = Callable[[Walk], Draft]


@dataclass(frozen=True, slots=True)
class Plan:
    """A planned site: what changed, what was issued and why, what could not be planned.

    ``secrets`` holds new secrets by the identifier of their mark; ``secrets_waiting_count`` how many were not made
    because nobody opened the vault.
    """

    site: Site
    changes: Changes
    issues: tuple[Issue, ...]
    troubles: tuple[Trouble, ...]
    secrets: Mapping[str, str]
    secrets_waiting_count: int

    def __repr__(self) -> str:
        return f"Plan({len(self.changes)} changes, {len(self.troubles)} troubles, {len(self.secrets)} secrets)"


def plan_site(
    site: Site,
    *,
    new_id: Callable[[], str],
    choose: Callable[[int], int] | None,
    progress: Progress = lambda _: None,
) -> Plan:
    """Plan whatever is still to be issued; planning a planned site changes nothing.

    Args:
        site: the site as it is.
        new_id: makes identifiers for keys, modules and secret marks.
        choose: a uniformly random number below its argument, for secrets; None to make no secrets.
        progress: told the name of each step.
    """
    walk = Walk(site)
    changes: Changes = ()
    issues: list[Issue] = []
    troubles: list[Trouble] = []
    planners: Final[tuple[tuple[str, Planner], ...]] = (
        ("call numbers", plan_numbers),
        ("keys", lambda walk: plan_keys(walk, new_id)),
        ("addresses", plan_addresses),
        ("positions and registrars", plan_groups),
        ("ports", plan_ports),
    )
    for name, planner in planners:
        progress(name)
        draft = planner(walk)
        walk = Walk(apply(walk.site, draft.changes)) if draft.changes else walk
        changes += draft.changes
        issues += draft.issues
        troubles += draft.troubles
    secrets: dict[str, str] = {}
    if choose is not None:
        progress("secrets")
        draft, secrets = plan_secrets(walk, new_id, choose)
        walk = Walk(apply(walk.site, draft.changes)) if draft.changes else walk
        changes += draft.changes
        issues += draft.issues
        troubles += draft.troubles
    return Plan(
        site=walk.site,
        changes=changes,
        issues=tuple(issues),
        troubles=tuple(troubles),
        secrets=secrets,
        secrets_waiting_count=0 if choose is not None else len(wanting_secrets(walk)),
    )
