"""What is there already: switches, the runs on them, who feeds whom, and which of them is the root."""

from collections import Counter
from collections.abc import Mapping
from dataclasses import replace
from typing import Final

from doorwright.calc import poe
from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.place import Place
from doorwright.model.power import Supply
from doorwright.model.profile import Profile
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.plan.placement.lacking import Lacking, first_of
from doorwright.plan.placement.names import Names
from doorwright.plan.placement.problem import Existing, Kept, Root, SwitchType
from doorwright.studies.run import feeding_run

_SHEET: Final = "Correct the sheet of the profile."


def type_of(profile: Profile) -> SwitchType:
    """Return a switch profile as a type that may be bought; its cost comes later.

    Without uplinks of its own the last access port leads up, as ``plan_ports`` issues it. Without a PoE budget it feeds
    nothing that draws.
    """
    access_count = profile.ports_count - profile.uplinks_count
    return SwitchType(
        key=profile.key,
        ports_count=access_count if profile.uplinks_count else access_count - 1,
        uplinks_count=max(1, profile.uplinks_count),
        budget_w=profile.poe_budget_w or 0.0,
        port_w=profile.poe_port_w or 0.0,
        optical=profile.uplinks_optical,
    )


def lacks_of(profile: Profile, lacking: Lacking, *, feeds: bool) -> bool:
    """Note what the sheet of a switch does not tell; ``feeds`` says that units draw power by PoE."""
    before = len(lacking.mistakes())
    if profile.ports_count < 1:
        lacking.add("profiles", "the number of ports is not known", _SHEET, profile.key)
    if feeds and profile.poe_budget_w and profile.poe_port_w is None:
        lacking.add("profiles", "the power that one port gives (poe_port_w) is not known", _SHEET, profile.key)
    return len(lacking.mistakes()) > before


def drawn_w(walk: Walk, unit: Unit, lacking: Lacking) -> float:
    """Return what a port must set aside for a unit: its class's power at the port; 0 W where a supply feeds it."""
    profile = walk.profile(unit.profile)
    if profile is None:
        lacking.add("units", f"there is no profile {unit.profile}", "Give the profile that the unit has.", unit.name)
        return 0.0
    fed_by_dc = any(
        walk.find(Supply, run.near) is not None or walk.find(Junction, run.near) is not None
        for run in walk.runs_to(unit.id)
    )
    if (profile.dc_draw_w is not None and fed_by_dc) or (profile.poe_class is None and profile.poe_draw_w is None):
        return 0.0
    if profile.poe_class not in poe.CLASSES:
        lacking.add("profiles", "the PoE class is not known", _SHEET, profile.key)
        return 0.0
    return poe.poe_class(profile.poe_class).port_w


class InUse:
    """The switches of a site as the question has them."""

    def __init__(self, walk: Walk, names: Names, cupboards: Mapping[str, Place], lacking: Lacking) -> None:
        self._walk = walk
        self._names = names
        self._cupboards = cupboards
        self._lacking = lacking
        self.types: dict[str, SwitchType] = {}
        """Types of switches that are there; none of these is sold."""
        self._switches = sorted(walk.all(Switch), key=lambda one: natural_key(names.of(one.id)))
        self._above = {one.id: self._feeder(one) for one in self._switches}

    def _feeder(self, switch: Switch) -> str | None:
        run = feeding_run(self._walk, switch.id, Switch)
        return run.near if run is not None and run.near != switch.id else None

    def existing(self, root: Root | None, *, feeds: bool) -> tuple[Existing, ...]:
        """Return the switches with the runs to units on them."""
        found = []
        for switch in self._switches:
            name = self._names.of(switch.id)
            profile = self._walk.profile(switch.profile)
            if switch.place is None or switch.place not in self._cupboards:
                remedy = "Give its place in the workbook, sheet Switches."
                self._lacking.add("switches", "nobody has said where it is", remedy, name)
            elif profile is None:
                remedy = "Give the profile that the switch has."
                self._lacking.add("switches", f"there is no profile {switch.profile}", remedy, name)
            elif not lacks_of(profile, self._lacking, feeds=feeds):
                found.append(self._one(switch, switch.place, profile, root))
        return tuple(found)

    def _one(self, switch: Switch, place: str, profile: Profile, root: Root | None) -> Existing:
        name = self._names.of(switch.id)
        kept: list[CableRun] = []
        other_count, links_count = 0, 0
        access_count = profile.ports_count - profile.uplinks_count
        fed_w = 0.0
        for run in self._walk.runs_from(switch.id):
            unit = self._walk.find(Unit, run.far)
            below = self._walk.find(Switch, run.far)
            if unit is not None and feeding_run(self._walk, unit.id, Switch) == run:
                kept.append(run)
            elif below is not None:
                links_count += run.near_port is not None and run.near_port <= access_count
                sheet = self._walk.profile(below.profile)
                if sheet is not None and sheet.poe_class in poe.CLASSES:
                    fed_w += poe.poe_class(sheet.poe_class).port_w
            else:
                other_count += 1
        links_count += sum(
            run.far_port is not None and run.far_port <= access_count and self._above[switch.id] is not None
            for run in self._walk.runs_to(switch.id)
            if profile.uplinks_count
        )
        sold = type_of(profile)
        own = replace(
            sold,
            ports_count=sold.ports_count - other_count - links_count,
            uplinks_count=sold.uplinks_count + links_count,
            budget_w=max(0.0, sold.budget_w - fed_w),
        )
        if own != sold:
            own = replace(own, key=f"{sold.key}, what is left of {name}")
        self.types[own.key] = replace(own, at_most_count=0)
        if len(kept) > own.ports_count:
            problem = f"{len(kept)} units are on {max(0, own.ports_count)} ports"
            self._lacking.add("switches", problem, "Correct the cable runs, or the profile of the switch.", name)
        kept.sort(key=lambda run: (run.near_port is None, run.near_port or 0, natural_key(run.name)))
        above = self._above[switch.id]
        above_name = self._names.of(above) if above is not None else None
        return Existing(
            key=name,
            type=own.key,
            cupboard=self._names.of(place),
            # which port is whose is plan_ports' business: here each run takes one of so many
            runs=tuple(
                Kept(demand=self._names.of(run.far), port=port, length_m=run.length_m)
                for port, run in enumerate(kept, start=1)
            ),
            fed_by=None if root is not None and above_name == root.switch else above_name,
        )

    def root(self) -> Root | None:
        """Return the cupboard where the network begins, with its switch: the main one, else where the tree begins."""
        below = Counter(above for above in self._above.values() if above is not None)
        tops = [one for one in self._switches if self._above[one.id] is None]
        mains = [place for place in self._cupboards.values() if place.main]
        if len(mains) > 1:
            names = first_of(self._names.of(place.id) for place in mains)
            self._lacking.add("places", "the network can begin in one place only", "Leave one of them main.", names)
            return None
        if mains:
            here = [one for one in self._switches if one.place == mains[0].id]
            first = max((one for one in here if one in tops), key=lambda one: below[one.id], default=None)
            if here and first is None:
                problem = "the network begins here, but its switches are fed from elsewhere"
                remedy = "Say which place is main, or correct the cable runs between switches."
                self._lacking.add("places", problem, remedy, self._names.of(mains[0].id))
                return None
            return self._rooted(mains[0].id, first)
        feeding = [one for one in tops if below[one.id]] or tops
        if len(feeding) == 1 and (place := feeding[0].place) is not None and place in self._cupboards:
            return self._rooted(place, feeding[0])
        if not self._switches and len(self._cupboards) == 1:
            return self._rooted(next(iter(self._cupboards)), None)
        which = first_of(self._names.of(one.id) for one in feeding) if feeding else "no cupboard is marked main"
        remedy = "Mark the cupboard of its first switch as main in the workbook, sheet Places."
        self._lacking.add("places", "nobody has said where the network begins", remedy, which)
        return None

    def _rooted(self, place: str, switch: Switch | None) -> Root:
        return Root(
            cupboard=self._names.of(place),
            placed=True,
            switch=self._names.of(switch.id) if switch is not None else None,
        )
