"""The cables of a site as the riser drawing tells them: bundles by feeder, uplinks one by one."""

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from typing import Final

from doorwright.kernel.words import counted
from doorwright.model.door import Door
from doorwright.model.network import CableRun, Junction, Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk

_NEAR: Final = (Switch, Supply)
_FAR: Final = (Unit, Switch, Door)


@dataclass(frozen=True, slots=True)
class Feed:
    """One run from a switch or supply to a unit or door, or from a supply to a switch."""

    run: CableRun
    feeder: Switch | Supply
    fed: Part

    @property
    def is_power(self) -> bool:
        """Whether it carries power alone."""
        return isinstance(self.feeder, Supply)


@dataclass(frozen=True, slots=True)
class Uplink:
    """One run between two switches."""

    run: CableRun
    near: Switch
    far: Switch

    @property
    def ident(self) -> str:
        """The identifier of its run."""
        return self.run.id

    @property
    def is_patch(self) -> bool:
        """Whether both ends stand in one place."""
        return self.near.place is not None and self.near.place == self.far.place

    def words_at(self, switch: str, where: str = "") -> str:
        """Say where it leads, seen from one of its ends; ``where`` is told of the other end if given."""
        if self.near.id == self.far.id:
            return f"back to itself · {kind_and_length(self.run)}"
        towards = f"to {self.far.name}" if switch == self.near.id else f"from {self.near.name}"
        return f"{towards}{f' ({where})' if where else ''} · {kind_and_length(self.run)}"


class Cabling:
    """Every cable run, sorted into feeds and uplinks; runs that are neither are noted, not dropped."""

    def __init__(self, walk: Walk) -> None:
        self.feeds: list[Feed] = []
        self.uplinks: list[Uplink] = []
        self.notes: list[str] = []
        self._ends: dict[str, list[CableRun]] = {}
        self._links: dict[str, list[Uplink]] = {}
        self._told: dict[str, list[str]] = {}
        stray = []
        joined = 0
        for run in walk.all(CableRun):
            for end in dict.fromkeys((run.near, run.far)):
                self._ends.setdefault(end, []).append(run)
            near, far = _first(walk, _NEAR, run.near), _first(walk, _FAR, run.far)
            if isinstance(near, Switch) and isinstance(far, Switch):
                self._uplink(Uplink(run, near, far))
            elif isinstance(near, Switch | Supply) and far is not None:
                self.feeds.append(Feed(run, near, far))
                self._told.setdefault(far.id, []).append(f"from {near.name} · {kind_and_length(run)}")
            elif walk.find(Junction, run.near) or walk.find(Junction, run.far):
                joined += 1
            else:
                stray.append(run.name)
        if joined:
            self.notes.append(f"{counted(joined, 'cable run')} to or from a junction: see the power drawing")
        if stray:
            self.notes.append(
                f"Cable runs not drawn, because they do not lead from a switch or supply to a unit, switch or door "
                f"of this site ({len(stray)}): {', '.join(stray)}"
            )

    def _uplink(self, link: Uplink) -> None:
        self.uplinks.append(link)
        for switch in dict.fromkeys((link.near.id, link.far.id)):
            self._links.setdefault(switch, []).append(link)
            self._told.setdefault(switch, []).append(link.words_at(switch))

    def uplinks_at(self, switch: str) -> list[Uplink]:
        """Uplinks that end at a switch."""
        return self._links.get(switch, [])

    def told_at(self, part: str) -> list[str]:
        """Say in words which cables come to a part."""
        return self._told.get(part, [])

    def ports_used(self, switch: str) -> int:
        """Count the data cables that end at a switch."""
        data = [feed for feed in self.feeds if feed.feeder.id == switch]
        return len(data) + len(self.uplinks_at(switch))


def kind_and_length(run: CableRun) -> str:
    """Say what one cable is and how long."""
    return f"{run.cable or 'cable'}, {f'{run.length_m:g} m' if run.length_m is not None else 'no length'}"


def bundle_words(runs: Iterable[CableRun]) -> str:
    """Say how many cables of which kinds run together, and the longest of them: ``8 × cat6, ≤ 41 m``."""
    runs = tuple(runs)
    kinds = Counter(run.cable or "cable" for run in runs)
    return " + ".join(f"{count} × {kind}" for kind, count in sorted(kinds.items())) + _longest(runs)


def short_bundle_words(runs: Iterable[CableRun]) -> str:
    """Say how many cables run together, whatever their kinds, and the longest: ``3 cables, ≤ 41 m``."""
    runs = tuple(runs)
    return f"{counted(len(runs), 'cable')}{_longest(runs)}"


def _longest(runs: tuple[CableRun, ...]) -> str:
    lengths_m = [run.length_m for run in runs if run.length_m is not None]
    if not lengths_m:
        return ", no length"
    missing = len(runs) - len(lengths_m)
    return f", ≤ {max(lengths_m):g} m" + (f" ({missing} without length)" if missing else "")


def _first(walk: Walk, kinds: tuple[type[Part], ...], ident: str) -> Part | None:
    return next((part for kind in kinds if (part := walk.find(kind, ident)) is not None), None)
