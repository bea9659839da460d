"""A small invented building whose cable lengths can be added up by hand.

Core A stands at (0, 0), core B 10 m and 4 m off. Levels G at 0 m, 1 at 3.2 m, 2 at 6.4 m; cables cross on G alone.
"""

from dataclasses import replace

from doorwright.model.network import CableRun, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Unit, UnitKind
from doorwright.plan.placement.from_site import Wish

SMALL = Profile(
    key="small", title="Six ports", kind=ProfileKind.SWITCH, ports_count=6, uplinks_count=2, poe_budget_w=90.0,
    poe_port_w=30.0,
)  # fmt: skip
RECEIVER = Profile(key="receiver", title="Receiver", kind=ProfileKind.URU, poe_class=3, poe_draw_w=9.0)
PANEL = Profile(key="panel", title="Panel", kind=ProfileKind.VCU, poe_class=4, poe_draw_w=18.0)
WISH = Wish(profiles=(SMALL,), cable="cat6", uplink_cable="cat6a", optical_cable="fibre")


def small_site() -> Site:
    return Site(
        name="Alder Yard",
        choices=Choices(spare_ratio=0.2, slack_m=5.0),
        profiles=(RECEIVER, PANEL, SMALL),
        buildings=(Building(id="b", name="Alder Yard"),),
        cores=(
            Core(id="a", building="b", name="A", x_m=0.0, y_m=0.0),
            Core(id="c", building="b", name="B", x_m=10.0, y_m=4.0),
        ),
        levels=(
            Level(id="g", building="b", name="G", order=0, height_m=0.0, crosses=True),
            Level(id="l1", building="b", name="1", order=1, height_m=3.2),
            Level(id="l2", building="b", name="2", order=2, height_m=6.4),
        ),
        places=(
            Place(
                id="ra", name="Riser A", kind=PlaceKind.RISER_CUPBOARD, core="a", level="g", run_m=1.0,
                switches_max_count=2, main=True,
            ),
            Place(id="rb", name="Riser B", kind=PlaceKind.RISER_CUPBOARD, core="c", level="l2", switches_max_count=1),
            Place(id="gate", name="Gate", kind=PlaceKind.OUTDOORS, core="a", level="g", run_m=20.0),
        ),
        dwellings=(dwelling("101", "a", "l1", 6.0), dwelling("201", "c", "l2", 8.5)),
        entrances=(Entrance(id="e", name="Gate", place="gate", serves_buildings=("b",)),),
        units=(
            Unit(id="u-gate", name="Panel", kind=UnitKind.VCU, profile="panel", entrance="e"),
            receiver("101"),
            receiver("201"),
        ),
    )  # fmt: skip


def dwelling(label: str, core: str, level: str, run_m: float | None) -> Dwelling:
    return Dwelling(id=f"d{label}", door_label=label, core=core, level=level, run_m=run_m)


def receiver(label: str) -> Unit:
    return Unit(id=f"u{label}", name=f"URU {label}", kind=UnitKind.URU, profile="receiver", dwelling=f"d{label}")


def with_home(site: Site, label: str, core: str, level: str, run_m: float) -> Site:
    """The site with one more home and its receiver."""
    return replace(
        site,
        dwellings=(*site.dwellings, dwelling(label, core, level, run_m)),
        units=(*site.units, receiver(label)),
    )


def with_switch(site: Site, *runs: CableRun, name: str = "SW-1", place: str = "ra") -> Site:
    """The site with a switch and runs more."""
    return replace(
        site,
        switches=(*site.switches, Switch(id=name.casefold(), name=name, profile="small", place=place)),
        runs=(*site.runs, *runs),
    )
