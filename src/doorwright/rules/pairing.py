"""Pairing: every unit registers where it must, and in the right place of its group."""

from collections.abc import Iterable, Iterator
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.naming import named
from doorwright.model.network import SipServer
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.example import Edit, as_it_is, both, plus, put, put_profile
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds, some

PLANNING: Final = (Phase.PLANNING, Phase.COMMISSIONING, Phase.OPERATION)
REGISTERING: Final = Cite("rfc3261", "§10, registrations")
PAIRING: Final = Cite("practice", "facts that must agree at both ends of a pairing")
FAMILY: Final = Cite("practice", "limits of a unit family are in its data sheet")


def _served_from(name: str, *buildings: str) -> Edit:
    """Let dwelling 101's first unit register with a server for these buildings."""
    server = SipServer(id="server", name=name, address="192.0.2.5", realm="doors.example", serves_buildings=buildings)
    return both(plus(server), put(Unit, "uru-1", registrar="server"))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, PAIRING),
    finds=Example("The unit of dwelling 102 registers nowhere.", put(Unit, "uru-2", registrar=None)),
    passes=Example("Only the primary VCU registers nowhere.", as_it_is),
)
def unit_without_registrar(facts: Facts, unit: Unit) -> Said:
    """A unit registers with nothing.

    Why it matters: nobody knows where it is, so no call reaches it and it can make none.
    What to do: let the pairing planner choose the registrar. Only the primary visitor call unit of a group does
    without.
    """
    if unit.registrar or (unit.kind is UnitKind.VCU and unit.position == 0):
        yield HOLDS
    elif unit.kind is UnitKind.VCU and unit.position is None:
        yield lacks(unit, "position")
    else:
        yield Found(f"{named(facts.walk, unit)} has no registrar")


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, PAIRING),
    finds=Example("The unit of dwelling 102 registers with the desk.", put(Unit, "uru-2", registrar="smu-desk")),
    passes=Example("It registers with the primary VCU.", as_it_is),
)
def registrar_cannot_register(facts: Facts, unit: Unit) -> Said:
    """A unit registers with something that is not there or takes no registrations.

    Why it matters: the unit stays off line, and the fault is looked for in the cable.
    What to do: choose a primary visitor call unit, the dwelling's primary user receiver unit, or a SIP server.
    """
    if unit.registrar is None:
        return
    walk = facts.walk
    registrar = walk.find(Unit, unit.registrar)
    if registrar is None:
        if walk.find(SipServer, unit.registrar) is not None:
            yield HOLDS
        else:
            yield Found(
                f"{named(walk, unit)} registers with {unit.registrar!r}, which is no unit or server of the site"
            )
        return
    profile = walk.profile(registrar.profile)
    if profile is None:
        yield lacks(registrar, "profile")
    elif profile.registrations_max_count == 0:
        yield Found(
            f"{named(walk, unit)} registers with {named(walk, registrar)}, which takes no registrations", (registrar,)
        )
    else:
        yield HOLDS


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(PAIRING, Cite("iec62820-1-1", "kinds of unit")),
    finds=Example("The second unit of dwelling 101 registers with 102's.", put(Unit, "uru-1b", registrar="uru-2")),
    passes=Example("It registers with the primary of its own dwelling.", as_it_is),
)
def registers_in_wrong_place(facts: Facts, unit: Unit) -> Said:
    """A unit registers with a unit of the wrong kind or of another home.

    Why it matters: calls for one home ring in another, or do not ring at all.
    What to do: let secondaries of a dwelling register with its primary; let primaries, desks and visitor call units
    register with a primary visitor call unit or a SIP server.
    """
    walk = facts.walk
    registrar = walk.find(Unit, unit.registrar)
    if registrar is None:
        return
    if unit.kind is UnitKind.URU and unit.position is None:
        yield lacks(unit, "position")
        return
    if unit.kind is UnitKind.URU and unit.position:
        right = registrar.kind is UnitKind.URU and registrar.dwelling == unit.dwelling and registrar.position == 0
        wanted = "the primary unit of its own dwelling"
    else:
        right = registrar.kind is UnitKind.VCU and registrar.position == 0
        wanted = "a primary visitor call unit"
    if right:
        yield HOLDS
    else:
        yield Found(f"{named(walk, unit)} registers with {named(walk, registrar)}, not with {wanted}", (registrar,))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, Cite("practice")),
    finds=Example(
        "The main VCU registers with the rear one, its own secondary.", put(Unit, "vcu-main", registrar="vcu-rear")
    ),
    passes=Example("Nothing registers with its own client.", as_it_is),
)
def registrar_loop(facts: Facts, unit: Unit) -> Said:
    """Units register with each other in a ring.

    Why it matters: each waits for the other after a power cut, and calls run in circles.
    What to do: decide which of them is the primary and let it register with nothing.
    """
    if unit.registrar is None:
        return
    ring = [unit]
    following = facts.walk.find(Unit, unit.registrar)
    while following is not None and following not in ring:
        ring.append(following)
        following = facts.walk.find(Unit, following.registrar)
    if following is None:
        yield HOLDS
    elif following is unit and all(unit.id <= member.id for member in ring):
        names = " with ".join(named(facts.walk, member) for member in (*ring, unit))
        yield Found(f"units register in a ring: {names}", tuple(ring))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(FAMILY, REGISTERING),
    finds=Example(
        "The main VCU takes six registrations; seven units want one.",
        put_profile("vcu-direct", registrations_max_count=6),
    ),
    passes=Example("It takes seven.", put_profile("vcu-direct", registrations_max_count=7)),
)
def registrar_full(facts: Facts, unit: Unit) -> Said:
    """More units register with a unit than it takes.

    Why it matters: the last ones paired never come on line; they are answered 403 or 503 for ever.
    What to do: choose a unit that takes more, split the entrances into groups, or add a SIP server.
    """
    clients = facts.walk.units_registered_with(unit.id)
    if not clients:
        return
    profile = facts.walk.profile(unit.profile)
    if profile is None:
        yield lacks(unit, "profile")
    # one that takes none at all is told with each unit that registers there
    elif 0 < profile.registrations_max_count < len(clients):
        yield Found(
            f"{named(facts.walk, unit)}: {len(clients)} units register with it,"
            f" it takes {profile.registrations_max_count}"
        )
    else:
        yield HOLDS


@rule(
    over=SipServer,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, Cite("practice", "a server is licensed or sized for a number of registrations")),
    finds=Example(
        "Two units register with a server that is licensed for one.",
        both(
            plus(SipServer(id="server", name="SIP 1", address="192.0.2.5", realm="doors.example", registrations_max=1)),
            put(Unit, "uru-1", registrar="server"),
            put(Unit, "uru-2", registrar="server"),
        ),
    ),
    passes=Example(
        "Two units register with a server that is licensed for two.",
        both(
            plus(SipServer(id="server", name="SIP 1", address="192.0.2.5", realm="doors.example", registrations_max=2)),
            put(Unit, "uru-1", registrar="server"),
            put(Unit, "uru-2", registrar="server"),
        ),
    ),
)
def server_full(facts: Facts, server: SipServer) -> Said:
    """More units register with a SIP server than it is licensed or sized for.

    Why it matters: the last ones are refused, often without a message that anybody sees.
    What to do: ask for more registrations, or share the units between two servers.
    """
    if server.registrations_max is None:
        yield lacks(server, "registrations")
        return
    clients_count = len(facts.walk.units_registered_with(server.id))
    if clients_count > server.registrations_max:
        yield Found(
            f"{named(facts.walk, server)}: {clients_count} units register with it, it takes {server.registrations_max}"
        )
    else:
        yield HOLDS


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, Cite("practice", "a server may be for some buildings only")),
    finds=Example(
        "Dwelling 101's unit registers with a server that is for another building.", _served_from("annex", "building-2")
    ),
    passes=Example("It registers with a server for its own building.", _served_from("own", "building-1")),
)
def server_of_another_building(facts: Facts, unit: Unit) -> Said:
    """A unit of a dwelling registers with a server that is for other buildings.

    Why it matters: the entrances of its own building register elsewhere, so their calls do not reach it.
    What to do: let it register with the server of its building or with its entrance's primary, or let the server serve
    this building too.
    """
    walk = facts.walk
    server = walk.find(SipServer, unit.registrar)
    dwelling = walk.find(Dwelling, unit.dwelling)
    if server is None or dwelling is None or not server.serves_buildings:
        return
    building = walk.building_of(dwelling)
    if building is None or building.id in server.serves_buildings:
        yield HOLDS
    else:
        yield Found(
            f"{named(walk, unit)} registers with {named(walk, server)}, which is not for {named(walk, building)}",
            (server,),
        )


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(FAMILY, PAIRING),
    finds=Example("Both units of dwelling 101 are primaries.", put(Unit, "uru-1b", position=0)),
    passes=Example("One is the primary, the other its first secondary.", as_it_is),
)
def dwelling_positions_wrong(facts: Facts, dwelling: Dwelling) -> Said:
    """The units of a dwelling are not one primary and its secondaries 1, 2, 3.

    Why it matters: the position is entered at both ends of the pairing. With two primaries half the home stays silent;
    with a repeated position one unit pushes the other out.
    What to do: let the pairing planner give the positions; leave those that are set already.
    """
    urus = facts.walk.units_in(dwelling.id)
    if urus:
        yield from _positions(facts.walk, dwelling, urus, first=0)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(FAMILY, PAIRING),
    finds=Example("Both secondary VCUs get position 1.", put(Unit, "vcu-gate", position=1)),
    passes=Example(
        "The secondary VCUs exchange their positions.",
        both(put(Unit, "vcu-gate", position=1), put(Unit, "vcu-rear", position=2)),
    ),
)
def group_positions_wrong(facts: Facts, unit: Unit) -> Said:
    """The secondaries of a primary visitor call unit are not counted 1, 2, 3.

    Why it matters: the position is entered at both ends of the pairing. Two secondaries at one position push each other
    out, and many primaries stop looking at the first gap.
    What to do: let the pairing planner give the positions; leave those that are set already.
    """
    if unit.kind is not UnitKind.VCU:
        return
    secondaries = [one for one in facts.walk.units_registered_with(unit.id) if one.kind is UnitKind.VCU]
    if secondaries:
        yield from _positions(facts.walk, unit, secondaries, first=1)


def _positions(walk: Walk, owner: Dwelling | Unit, units: Iterable[Unit], first: int) -> Said:
    ordered = sorted(units, key=lambda unit: unit.id)
    unknown = next((unit for unit in ordered if unit.position is None), None)
    if unknown is not None:
        yield lacks(unknown, "position")
        return
    positions = sorted(unit.position for unit in ordered if unit.position is not None)
    if positions == list(range(first, first + len(ordered))):
        yield HOLDS
    else:
        counted = ", ".join(map(str, positions))
        upto = first + len(ordered) - 1
        wanted = f"{first} to {upto}" if upto > first else str(first)
        whose = f"{'secondaries of ' if isinstance(owner, Unit) else ''}{named(walk, owner)}"
        yield Found(f"{whose}: positions {counted}, wanted {wanted}", tuple(ordered))


@rule(
    over=Dwelling,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(FAMILY,),
    finds=Example(
        "A primary takes no secondary; dwelling 101 has one.", put_profile("uru-video", secondaries_max_count=0)
    ),
    passes=Example("A primary takes one.", put_profile("uru-video", secondaries_max_count=1)),
)
def too_many_units_in_dwelling(facts: Facts, dwelling: Dwelling) -> Said:
    """A dwelling has more secondaries than its primary takes.

    Why it matters: the last units cannot be paired.
    What to do: take units away, or choose a primary that takes more.
    """
    urus = facts.walk.units_in(dwelling.id)
    primary = min((uru for uru in urus if uru.position == 0), key=lambda uru: uru.id, default=None)
    if primary is not None:
        secondaries_count = sum(1 for uru in urus if uru.position)
        yield from _group_size(facts.walk, dwelling, primary, secondaries_count)


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(FAMILY,),
    finds=Example("The main VCU takes one secondary; it has two.", put_profile("vcu-direct", secondaries_max_count=1)),
    passes=Example("It takes two.", put_profile("vcu-direct", secondaries_max_count=2)),
)
def too_many_units_in_group(facts: Facts, unit: Unit) -> Said:
    """A primary visitor call unit has more secondaries than it takes.

    Why it matters: the last entrances cannot be paired.
    What to do: split the entrances into groups, choose a primary that takes more, or add a SIP server.
    """
    if unit.kind is not UnitKind.VCU:
        return
    clients = facts.walk.units_registered_with(unit.id)
    secondaries_count = sum(1 for client in clients if client.kind is UnitKind.VCU)
    if secondaries_count:
        yield from _group_size(facts.walk, unit, unit, secondaries_count)


def _group_size(walk: Walk, owner: Dwelling | Unit, primary: Unit, secondaries_count: int) -> Said:
    profile = walk.profile(primary.profile)
    if profile is None:
        yield lacks(primary, "profile")
    elif secondaries_count > profile.secondaries_max_count:
        yield Found(
            f"{named(walk, owner)}: secondaries planned {secondaries_count},"
            f" the primary takes {profile.secondaries_max_count}"
        )
    else:
        yield HOLDS


@rule(
    over=Entrance,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(REGISTERING, PAIRING),
    finds=Example("The rear VCU becomes a primary of its own.", put(Unit, "vcu-rear", position=0, registrar=None)),
    passes=Example("The rear VCU is a secondary of the main one.", as_it_is),
)
def entrance_cannot_reach_dwelling(facts: Facts, entrance: Entrance) -> Said:
    """A visitor call unit does not share a registrar with a dwelling that it calls.

    Why it matters: the call is looked up where the dwelling's unit is not known, and ends with 404.
    What to do: let the visitor call unit be a secondary of the primary with which the dwelling's units register, or let
    both register with one SIP server.
    """
    walk = facts.walk
    vcus = walk.units_at(entrance.id)
    if not vcus:
        return
    dwellings_at: dict[str, list[Dwelling]] = {}
    for dwelling in walk.dwellings_served(entrance):
        for uru in walk.units_in(dwelling.id):
            if uru.position == 0 and uru.registrar:
                dwellings_at.setdefault(uru.registrar, []).append(dwelling)
    if dwellings_at:
        yield from found_or_holds(_cut_off(walk, vcus, dwellings_at))


def _cut_off(walk: Walk, vcus: Iterable[Unit], dwellings_at: dict[str, list[Dwelling]]) -> Iterator[Found]:
    for vcu in vcus:
        for registrar, dwellings in dwellings_at.items():
            if (vcu.registrar or vcu.id) != registrar and (vcu.registrar or vcu.position == 0):
                cut_off = sorted({dwelling.id: dwelling for dwelling in dwellings}.values(), key=lambda one: one.id)
                labels = some(f"dwelling {dwelling.label}" for dwelling in cut_off)
                far = walk.find(Unit, registrar) or walk.find(SipServer, registrar)
                where = named(walk, far) if far else repr(registrar)
                yield Found(
                    f"{named(walk, vcu)} cannot call {labels}: their units register with {where}", (vcu, *cut_off)
                )
