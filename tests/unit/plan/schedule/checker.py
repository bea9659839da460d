"""Checks a schedule against the site itself, from the rules as told in the documentation; shares no scheduling code."""

from collections import defaultdict
from itertools import pairwise

from doorwright.model.network import SipServer, Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling, Entrance, Level, Place
from doorwright.model.site import Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.schedule import Pace, Schedule, Spot, Times, Visit


def way_s(pace: Pace, a: Spot, b: Spot) -> int:
    """Walk the tree: each end climbs to where the ways meet; halves of odd ways count as whole seconds."""
    if a == b:
        return 0
    legs_s = pace.door_s
    if a.building == b.building and a.core == b.core:
        return legs_s + abs(a.storey - b.storey) * pace.level_s
    for end in (a, b):
        legs_s += abs(end.storey) * pace.level_s
        if end.core is not None:
            legs_s += (pace.core_s + 1) // 2
        if end.building is not None and a.building != b.building:
            legs_s += (pace.building_s + 1) // 2
    return legs_s


def problems(site: Site, schedule: Schedule, *, pace: Pace, times: Times, remote: bool = False) -> list[str]:
    """Return everything that is wrong with a schedule."""
    wrong = [*_of_technicians(schedule, pace), *_Rules(site, schedule, pace, times, remote=remote).broken()]
    if schedule.finish_s != max((visit.end_s for visit in schedule.visits), default=0):
        wrong.append("the finish told is not the end of the last job")
    return wrong


def _of_technicians(schedule: Schedule, pace: Pace) -> list[str]:
    wrong = []
    for technician in range(schedule.technicians):
        day = sorted((v for v in schedule.visits if v.technician == technician), key=lambda v: (v.start_s, v.end_s))
        if day and day[0].start_s != day[0].wait_s:
            wrong.append(f"{technician} begins with a walk from nowhere")
        for one, following in pairwise(day):
            walked_s = way_s(pace, one.job.spot, following.job.spot)
            if following.start_s < one.end_s + walked_s:
                wrong.append(f"{technician} is in two places: {one.job.action}, {following.job.action}")
            if (following.walk_s, following.wait_s) != (walked_s, following.start_s - one.end_s - walked_s):
                wrong.append(f"{technician} is told a wrong walk or wait before {following.job.action}")
    if not all(0 <= visit.technician < schedule.technicians for visit in schedule.visits):
        wrong.append("there is no such technician")
    return wrong


class _Rules:
    def __init__(self, site: Site, schedule: Schedule, pace: Pace, times: Times, *, remote: bool) -> None:
        self.walk, self.pace, self.times, self.remote = Walk(site), pace, times, remote
        self.site = site
        self.visits = schedule.visits
        self.entered: dict[str, list[Visit]] = defaultdict(list)
        self.at_registrar: dict[str, list[Visit]] = defaultdict(list)
        self.looked: dict[str, list[Visit]] = defaultdict(list)
        self.called: dict[tuple[str, str], list[Visit]] = defaultdict(list)
        self.menus: dict[str, list[Visit]] = defaultdict(list)
        for visit in schedule.visits:
            ids = [part.id for part in visit.job.parts]
            if visit.job.stage == "test":
                self.menus[ids[0]].append(visit)
                for ident in ids[1:]:
                    self.called[ids[0], ident].append(visit)
            elif visit.job.is_look:
                for ident in ids:
                    self.looked[ident].append(visit)
            elif visit.job.action.startswith("At "):
                self.menus[ids[0]].append(visit)
                for ident in ids[1:]:
                    self.at_registrar[ident].append(visit)
            else:
                for ident in ids:
                    self.entered[ident].append(visit)

    def broken(self) -> list[str]:
        wrong = []
        parts: list[Switch | SipServer | Unit] = [*self.site.switches, *self.site.servers, *self.site.units]
        wrong += [f"{part.id} is set up {n} times" for part in parts if (n := len(self.entered[part.id])) != 1]
        if wrong:
            return wrong
        for visit in self.visits:
            wrong += self._hands(visit) + self._place(visit)
        for part in parts:
            begin_s = self.entered[part.id][0].start_s
            for run in self.site.runs:
                if run.far == part.id and begin_s < self._ready_s(run.near):
                    wrong.append(f"{part.id} comes before its switch {run.near}")
        for unit in self.site.units:
            wrong += self._registering(unit)
        for vcu in self.site.units:
            if vcu.kind is UnitKind.VCU:
                wrong += self._tests(vcu)
        for ident, visits in self.menus.items():
            visits.sort(key=lambda visit: visit.start_s)
            pairs = pairwise(visits)
            wrong += [f"two use the menu of {ident}" for one, other in pairs if other.start_s < one.end_s]
        return wrong

    def _hands(self, visit: Visit) -> list[str]:
        """A job takes what each of its parts takes, and the way from door to door."""
        times, parts = self.times, visit.job.parts
        units = [part for part in parts if isinstance(part, Unit)]
        doors_s = self.pace.door_s * (len({unit.dwelling or unit.id for unit in units}) - 1)
        if visit.job.stage == "test":
            called = sum(isinstance(part, Dwelling) for part in parts)
            hands_s = times.call_s * called + times.release_s * (len(parts) - 1 - called)
        elif visit.job.is_look:
            hands_s = times.look_s * len(units) + doors_s
        elif visit.job.action.startswith("At "):
            hands_s = times.registrar_s * (len(units) - 1)
        elif not units:
            hands_s = times.switch_s
        else:
            with_it = sum(unit.registrar is not None and not self._is_elsewhere(unit) for unit in units)
            hands_s = times.unit_s * len(units) + times.registrar_s * with_it + doors_s
        told_s = visit.end_s - visit.start_s
        return [] if told_s == hands_s else [f"{visit.job.action} takes {told_s} s where {hands_s} s are needed"]

    def _place(self, visit: Visit) -> list[str]:
        """A job is done where its parts hang: what is entered at a unit, or called from it, there."""
        of_first = visit.job.stage == "test" or visit.job.action.startswith("At ")
        parts = visit.job.parts[:1] if of_first else visit.job.parts
        spot = visit.job.spot
        stands = [self._stands(part) for part in parts]
        return [f"{visit.job.action} is not done at {at}" for at in stands if at and at != (spot.core, spot.storey)]

    def _stands(self, part: Part) -> tuple[str | None, int] | None:
        """The core and storey of a part; None where the site does not say."""
        place = self.walk.find(Place, getattr(part, "place", None))
        entrance = self.walk.find(Entrance, getattr(part, "entrance", None))
        dwelling = self.walk.find(Dwelling, getattr(part, "dwelling", None))
        if place is None and entrance is not None:
            place = self.walk.find(Place, entrance.place)
        if place is not None:
            level = self.walk.find(Level, place.level)
            return place.core, level.order if level else 0
        return (dwelling.core, self.walk.get(Level, dwelling.level).order) if dwelling and not entrance else None

    def _ready_s(self, ident: str) -> float:
        part = self.walk.part(ident)
        profile = self.walk.profile(part.profile) if isinstance(part, Unit | Switch) else None
        return self.entered[ident][0].end_s + (profile.restart_s if profile else 0)

    def _registering(self, unit: Unit) -> list[str]:
        if unit.registrar is None:
            return []
        wrong = []
        begin_s = self.entered[unit.id][0].start_s
        if begin_s < self._ready_s(unit.registrar):
            wrong.append(f"{unit.id} comes before its registrar")
        if self._is_elsewhere(unit):
            if len(self.at_registrar[unit.id]) != 1:
                return [f"{unit.id} is entered {len(self.at_registrar[unit.id])} times at its registrar"]
            (there,) = self.at_registrar[unit.id]
            if there.end_s > begin_s or there.start_s < self._ready_s(unit.registrar):
                wrong.append(f"{unit.id} is entered at its registrar too soon or too late")
        elif self.at_registrar[unit.id]:
            wrong.append(f"{unit.id} is entered at its registrar, though that is done with it")
        if len(self.looked[unit.id]) != 1:
            return [*wrong, f"{unit.id} is looked at {len(self.looked[unit.id])} times"]
        profile = self.walk.profile(unit.profile)
        assert profile is not None
        settled_s = self._entered_s(unit) + profile.restart_s + profile.settle_s
        if self.looked[unit.id][0].start_s < settled_s:
            wrong.append(f"{unit.id} is looked at before it has settled")
        return wrong

    def _is_elsewhere(self, unit: Unit) -> bool:
        registrar = self.walk.find(Unit, unit.registrar)
        at_home = registrar is not None and registrar.dwelling is not None and registrar.dwelling == unit.dwelling
        return registrar is not None and not self.remote and not at_home

    def _entered_s(self, unit: Unit) -> int:
        """When the entry of one unit of a job is done: those before it first, and the way between their doors."""
        (visit,) = self.entered[unit.id]
        now_s, door = visit.start_s, None
        for part in visit.job.parts:
            assert isinstance(part, Unit)
            if door is not None and part.dwelling != door:
                now_s += self.pace.door_s
            door = part.dwelling
            now_s += self.times.unit_s
            if part.registrar is not None and not self._is_elsewhere(part):
                now_s += self.times.registrar_s
            if part.id == unit.id:
                return now_s
        raise LookupError(unit.id)

    def _tests(self, vcu: Unit) -> list[str]:
        wrong = []
        served: set[str] = set()
        for entrance in self.site.entrances:
            if entrance.id == vcu.entrance:
                served = {dwelling.id for dwelling in self.walk.dwellings_served(entrance)}
        for dwelling in self.site.dwellings:
            urus = [unit for unit in self.site.units if unit.dwelling == dwelling.id]
            calls = self.called[vcu.id, dwelling.id]
            if len(calls) != (dwelling.id in served and bool(urus)):
                wrong.append(f"{dwelling.id} is called {len(calls)} times from {vcu.id}")
            for visit in calls:
                for unit in (*urus, vcu):
                    done = self.looked[unit.id] or self.entered[unit.id]
                    if visit.start_s < done[0].end_s:
                        wrong.append(f"{dwelling.id} is called before {unit.id} was looked at")
        doors = [door for door in self.site.doors if door.entrance == vcu.entrance]
        wrong += [f"{door.id} is not tested once" for door in doors if len(self.called[vcu.id, door.id]) != 1]
        strays = [ident for _, ident in self.called if self.walk.find(Dwelling, ident) is None]
        wrong += [f"{ident} is no door or dwelling" for ident in strays if self.walk.part(ident) is None]
        return wrong
