"""What to order: units, modules, switches and supplies by type, cable by kind and metre."""

from collections import Counter, defaultdict
from dataclasses import dataclass

from doorwright.model.network import CableRun, Switch
from doorwright.model.power import Supply
from doorwright.model.unit import KeyModule, Unit
from doorwright.model.walk import Walk


@dataclass(frozen=True, slots=True)
class Material:
    """One line of the bill: what, how much of what, and a remark where something is unknown."""

    group: str
    key: str
    title: str
    amount: float
    measure: str
    remark: str = ""


def bill_of_materials(walk: Walk) -> tuple[Material, ...]:
    """Return the bill of materials."""
    lines: list[Material] = []
    for group, kind in (("units", Unit), ("modules", KeyModule), ("switches", Switch), ("supplies", Supply)):
        count = Counter(part.profile for part in walk.site.table(kind))
        for key, number in sorted(count.items()):
            profile = walk.profile(key)
            lines.append(Material(group, key, profile.title if profile else key, number, "pieces"))
    runs_of: dict[str, list[CableRun]] = defaultdict(list)
    for run in walk.all(CableRun):
        runs_of[run.cable or "cable not chosen"].append(run)
    for key, runs in sorted(runs_of.items()):
        known = [run.length_m for run in runs if run.length_m is not None]
        open_count = len(runs) - len(known)
        remark = f"{open_count} of {len(runs)} runs have no length" if open_count else f"{len(runs)} runs, net length"
        lines.append(Material("cable", key, key, round(sum(known), 1), "m", remark))
    return tuple(lines)
