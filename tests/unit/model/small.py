"""A small invented site for tests of the model: one building, two cores, three dwellings."""

from doorwright.model.door import Door
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.unit import Key, KeyModule, SecretMark, SecretUse, Unit, UnitKind

SITE = Site(
    name="Alder Court",
    profiles=(Profile(key="panel", title="Panel", kind=ProfileKind.VCU),),
    buildings=(Building(id="b", name="Alder Court"),),
    cores=(Core(id="ca", building="b", name="A"), Core(id="cb", building="b", name="B")),
    levels=(Level(id="l0", building="b", name="Ground", order=0), Level(id="l1", building="b", name="1", order=1)),
    places=(Place(id="p", name="Riser A", kind=PlaceKind.RISER_CUPBOARD, core="ca", level="l1"),),
    dwellings=(
        Dwelling(id="d1", door_label="G01", core="ca", level="l0", call_number="1"),
        Dwelling(id="d2", door_label="g01", core="cb", level="l0", call_number="2"),
        Dwelling(id="d3", door_label="102", core="cb", level="l1"),
    ),
    entrances=(
        Entrance(id="e1", name="Main gate", serves_buildings=("b",)),
        Entrance(id="e2", name="Core B", serves_cores=("cb",), serves_dwellings=("d1", "d2", "gone")),
    ),
    doors=(Door(id="o1", name="Gate leaf", entrance="e1", freed_by="v1"),),
    units=(
        Unit(id="v1", name="Gate panel", kind=UnitKind.VCU, profile="panel", entrance="e1", address="192.0.2.10",
             serial="A1"),
        Unit(id="u1", name="URU G01", kind=UnitKind.URU, profile="uru", dwelling="d1", registrar="v1",
             address="192.0.2.11"),
        Unit(id="s1", name="Desk", kind=UnitKind.SMU, profile="desk", place="p", call_number="900"),
    ),
    modules=(KeyModule(id="m1", unit="v1", profile="six", ordinal=1, serial="A1"),),
    keys=(
        Key(id="k1", unit="v1", module=1, slot=3, dwelling="d1"),
        Key(id="k2", unit="v1", module=0, slot=1, desk="s1"),
    ),
    secrets=(SecretMark(id="x1", owner="u1", use=SecretUse.SIP, line=7),),
    subnets=(Subnet(id="n", name="Door entry", cidr="192.0.2.0/24"),),
    switches=(Switch(id="w", name="S1", profile="switch", place="p", address="192.0.2.10", subnet="n"),),
    runs=(CableRun(id="r1", name="C1", near="w", far="v1"),),
)  # fmt: skip
