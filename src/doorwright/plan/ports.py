"""A port at each end of every cable run from a switch, where none is written down.

Units take the first free access port, switches the first free uplink port. Ports already written down stay; a cable
that brings power to a switch takes no port of it.
"""

from collections.abc import Iterator

from doorwright.model.label import natural_key
from doorwright.model.network import CableRun, Switch
from doorwright.model.profile import Profile
from doorwright.model.walk import Walk
from doorwright.plan.draft import Draft


class _Ports:
    """The ports of one switch that no cable run names yet."""

    def __init__(self, walk: Walk, switch: Switch, profile: Profile) -> None:
        used = {run.near_port for run in walk.runs_from(switch.id)} | {run.far_port for run in walk.runs_to(switch.id)}
        access_count = profile.ports_count - profile.uplinks_count
        self._access = [port for port in range(1, access_count + 1) if port not in used]
        self._uplinks = [port for port in range(access_count + 1, profile.ports_count + 1) if port not in used]

    def access(self) -> int | None:
        """Take the first free access port."""
        return self._access.pop(0) if self._access else None

    def uplink(self) -> int | None:
        """Take the first free uplink port, else the last free access port."""
        if self._uplinks:
            return self._uplinks.pop(0)
        return self._access.pop() if self._access else None


def plan_ports(walk: Walk) -> Draft:
    """Draft port numbers."""
    draft = Draft(walk.site)
    ports = {
        switch.id: _Ports(walk, switch, profile)
        for switch in walk.all(Switch)
        if (profile := walk.profile(switch.profile)) is not None
    }
    left_over: dict[str, list[CableRun]] = {}
    for run, switch_id, end, uplink in _open_ends(walk):
        if switch_id not in ports:
            continue
        port = ports[switch_id].uplink() if uplink else ports[switch_id].access()
        if port is None:
            left_over.setdefault(switch_id, []).append(run)
        else:
            why = "the next free uplink port" if uplink else "the next free access port"
            draft.fill(run, end, port, what="port", why=why)
    for switch_id, runs in left_over.items():
        switch = walk.get(Switch, switch_id)
        draft.trouble(
            [switch, *runs],
            f"switch {switch.name} has no free port for {len(runs)} cable runs",
            "Choose a switch with more ports, or bring some runs to another switch.",
        )
    return draft


def _open_ends(walk: Walk) -> Iterator[tuple[CableRun, str, str, bool]]:
    """Yield each run end at a switch that has no port: the run, the switch, the field, and whether it is an uplink."""
    for run in sorted(walk.all(CableRun), key=lambda run: natural_key(run.name)):
        from_switch = walk.find(Switch, run.near) is not None
        to_switch = walk.find(Switch, run.far) is not None
        if from_switch and run.near_port is None:
            yield run, run.near, "near_port", to_switch
        if from_switch and to_switch and run.far_port is None:
            yield run, run.far, "far_port", True
