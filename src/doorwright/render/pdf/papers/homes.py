"""Many dwellings in few words, none left out: "all of North; South: 101 to 110, 301"."""

from collections.abc import Collection
from itertools import groupby

from doorwright.model.place import Core, Dwelling
from doorwright.model.walk import Walk
from doorwright.plan.order import WalkingOrder


def dwellings_in_words(walk: Walk, idents: Collection[str]) -> str:
    """Return the door labels of some dwellings, core by core, those in a row drawn together.

    Of a core with more dwellings in than out, those that are out are named: "all of North but 101, 102".
    """
    wanted = set(idents)
    told = []
    by_core = groupby(WalkingOrder(walk).dwellings(), key=lambda dwelling: dwelling.core)
    groups = [(core, list(group)) for core, group in by_core]
    for ident, homes in groups:
        inside = [home for home in homes if home.id in wanted]
        outside = [home for home in homes if home.id not in wanted]
        core = walk.find(Core, ident)
        name = core.name if core else "no core"
        if len(inside) > 2 and len(outside) < len(inside):
            but = f" but {_drawn_together(homes, outside)}" if outside else ""
            told.append(f"all of {name}{but}")
        elif inside:
            labels = _drawn_together(homes, inside)
            told.append(f"{name}: {labels}" if len(groups) > 1 else labels)
    return "; ".join(told)


def _drawn_together(homes: list[Dwelling], some: list[Dwelling]) -> str:
    """Return the labels of some dwellings of a core; three and more neighbours in walking order as "a to b"."""
    place = {home.id: i for i, home in enumerate(homes)}
    runs: list[list[Dwelling]] = []
    for home in some:
        if runs and place[home.id] == place[runs[-1][-1].id] + 1:
            runs[-1].append(home)
        else:
            runs.append([home])
    return ", ".join(
        f"{run[0].door_label} to {run[-1].door_label}" if len(run) > 2 else ", ".join(home.door_label for home in run)
        for run in runs
    )
