"""Found or rehearsed: what was seen of units, switches and calls agrees with the plan, and nothing else is there."""

from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from functools import wraps
from typing import Final

from doorwright.kernel.observation import Observation, Stage
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity, Subject
from doorwright.model.aspect import SITE_SUBJECT, Aspect, port_text, stranger, with_unit
from doorwright.model.naming import named
from doorwright.model.network import SipServer, Switch
from doorwright.model.rehearsed import CALLS, Apart, call_aspect, called_of, sum_text
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.differences import Difference, compare, compare_calls
from doorwright.rules.example import Edit, as_it_is, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Lacks, Rule, Said, rule
from doorwright.rules.strangers import FIND_IT, strangers

ON_SITE: Final = (Phase.COMMISSIONING, Phase.HANDOVER, Phase.OPERATION)
BOTH_ENDS: Final = Cite("practice", "facts that must agree at both ends of a pairing")
AS_BUILT: Final = Cite("practice", "the record says what is really there")


def _seen(subject: Subject, aspect: str, value: str) -> Observation:
    """Return an observation for an example."""
    return Observation(
        id=f"seen-{subject.id}-{aspect}",
        stage=Stage.FOUND,
        subject=subject,
        aspect=aspect,
        value=value,
        seen_at=datetime(2031, 5, 5, 10, 0, tzinfo=UTC),
        seen_by="A. Fitter",
    )


_RANG_102: Final = Apart(
    count=1,
    of_count=4,
    when="Mon 00:00",
    happened="URU 102 rang; URU 102 took it; digit 1 freed Main door",
    proved="URU 101 rang; URU 101 took it; digit 1 freed Main door",
)


def _judged(facts: Facts, part: Unit | Switch | SipServer, *aspects: Aspect) -> Said:
    yield from _told_all(facts.walk, compare(facts.walk, facts.observations, part, *aspects, today=facts.today))


def _told_all(walk: Walk, compared: Iterator[Difference | None]) -> Said:
    for one in compared:
        if one is None:
            yield HOLDS
        elif one.missing is not None:
            yield Lacks((one.missing,))
        else:
            yield Found(told(walk, one), one.also)


def told(walk: Walk, one: Difference) -> str:
    """Return a difference as a sentence; it says so where the building was rehearsed and not found."""
    is_rehearsed = one.seen.stage is Stage.REHEARSED
    on = f"{'in the rehearsal of' if is_rehearsed else 'on'} {one.seen.seen_at:%Y-%m-%d}"
    if called_of(one.aspect) is not None:
        return f"{named(walk, one.part)}, {one.said}, {on}: {one.to_do}"
    if one.said:
        return f"{named(walk, one.part)} {one.said} {on}: {one.to_do}"
    what = f"{named(walk, one.part)}: {'' if is_rehearsed else 'found '}{one.aspect} {with_unit(one.aspect, one.found)}"
    planned = f", planned {with_unit(one.aspect, one.planned)}" if one.aspect != Aspect.REGISTERED else ""
    return f"{what} {on}{planned}: {one.to_do}"


def as_planned(
    *aspects: Aspect,
    severity: Severity,
    cites: tuple[Cite, ...],
    finds: tuple[str, str],
    passes: tuple[str, str],
    over: type[Unit | Switch | SipServer] = Unit,
    of: str = "uru-2",
    edit: Edit = as_it_is,
) -> Callable[[Callable[[], None]], Rule]:
    """Make a rule of a page, a function that has a name and a docstring: these aspects were found as planned.

    Args:
        aspects: the aspects that it judges; its two cases are about the first.
        severity: how much a difference matters.
        cites: its sources.
        finds: a case that it finds: in words, and the value seen.
        passes: a case that it lets pass.
        over: whether units, switches or servers are judged.
        of: the part of the sound site that the cases are about.
        edit: what is done to the sound site first, in both cases.
    """

    def make(page: Callable[[], None]) -> Rule:
        @wraps(page)
        def judge(facts: Facts, part: Unit | Switch | SipServer) -> Said:
            if facts.observations:
                yield from _judged(facts, part, *aspects)

        def case(text: str, value: str) -> Example:
            return Example(text, edit, observed=(_seen(Subject(over.KIND, of), aspects[0], value),))

        return rule(
            over=over, severity=severity, phases=ON_SITE, cites=cites, finds=case(*finds), passes=case(*passes)
        )(judge)

    return make


@as_planned(
    Aspect.ADDRESS,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS,),
    finds=("The unit of dwelling 102 was found at 192.0.2.99.", "192.0.2.99"),
    passes=("It was found at 192.0.2.22, as planned.", "192.0.2.22"),
)
def found_address_differs() -> None:
    """A unit was found with another address than planned.

    Why it matters: the registrar, the labels and the record name the planned one, so the unit is called where it is
    not; and it may sit on the address of another.
    What to do: enter the planned address at the unit. Where the found one is meant, change the plan and look at both
    ends.
    """


@as_planned(
    Aspect.MASK,
    Aspect.GATEWAY,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS, Cite("rfc4632", "a mask says which addresses are near")),
    finds=("The unit of dwelling 102 was found with mask 255.255.0.0.", "255.255.0.0"),
    passes=("It was found with mask 255.255.255.0, as planned.", "255.255.255.0"),
)
def found_mask_or_gateway_differs() -> None:
    """A unit was found with another mask or gateway than its subnet has.

    Why it matters: it is reached from its own subnet and from nowhere else, or answers through a gateway that is none.
    What to do: enter mask and gateway of its subnet at the unit, and compare them at its registrar.
    """


@as_planned(
    Aspect.MAC,
    severity=Severity.WARNING,
    cites=(AS_BUILT,),
    finds=("The unit of dwelling 102 has the MAC address of another.", "00-00-5E-00-53-08"),
    passes=("It has the MAC address of the plan.", "00-00-5E-00-53-07"),
)
def found_mac_differs() -> None:
    """A unit was found with another MAC address than recorded: it is another unit.

    Why it matters: two units were exchanged, or one was replaced and the record tells of the old one.
    What to do: read the label of what hangs there. Put exchanged units where they belong, or enter what is there in the
    plan and at the registrar.
    """


@as_planned(
    Aspect.SERIAL,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS,),
    finds=("The unit of dwelling 102 has serial number A00000099.", "A00000099"),
    passes=("It has serial number A00000007, as recorded.", "A00000007"),
)
def found_serial_differs() -> None:
    """A unit was found with another serial number than recorded: it is another unit.

    Why it matters: the registrar was told the recorded number and refuses the unit, or takes it for another.
    What to do: read the label of what hangs there, and enter its number in the plan and at the registrar.
    """


@as_planned(
    Aspect.NAME,
    severity=Severity.NOTE,
    cites=(AS_BUILT,),
    finds=("The unit of dwelling 102 calls itself URU 103.", "URU 103"),
    passes=("It calls itself URU 102, as in the plan.", "URU 102"),
)
def found_name_differs() -> None:
    """A unit was found under another name than it has in the plan.

    Why it matters: what shows names (a directory, a desk, a log) speaks of another unit than drawings and labels do.
    What to do: enter the planned name at the unit, or call it in the plan what it is called there.
    """


@as_planned(
    Aspect.CALL_NUMBER,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS, Cite("rfc3261", "§10, registrations")),
    finds=("The unit of dwelling 102 was found with call number 201.", "201"),
    passes=("It was found with call number 102, as planned.", "102"),
)
def found_call_number_differs() -> None:
    """A unit was found with another call number than planned.

    Why it matters: the call rings elsewhere, or two homes ring.
    What to do: enter the planned number at the unit, and see that its registrar has the same.
    """


@as_planned(
    Aspect.POSITION,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS,),
    of="uru-1b",
    finds=("The bedroom unit of dwelling 101 was found at position 0.", "0"),
    passes=("It was found at position 1, as planned.", "1"),
)
def found_position_differs() -> None:
    """A unit was found at another position of its group than planned.

    Why it matters: two primaries in one group, or two units at one position, register in turn and drop each other.
    What to do: enter the planned position at the unit; it restarts then. See that its registrar has the same.
    """


@as_planned(
    Aspect.REGISTRAR,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS, Cite("rfc3261", "§10, registrations")),
    finds=("The unit of dwelling 102 registers with 192.0.2.99.", "192.0.2.99"),
    passes=("It registers with 192.0.2.16, the main VCU.", "192.0.2.16"),
)
def found_registrar_differs() -> None:
    """A unit was found with another registrar's address than planned.

    Why it matters: it is on the network and never registers, and at the registrar no attempt is seen.
    What to do: enter the planned registrar's address at the unit. The registrar's own entries stay as they are.
    """


@as_planned(
    Aspect.FIRMWARE,
    severity=Severity.WARNING,
    cites=(Cite("practice", "one firmware baseline for a unit type"),),
    finds=("The unit of dwelling 102 was found with firmware 3.1.", "3.1"),
    passes=("It was found with firmware 3.2.0, which is 3.2.", "3.2.0"),
)
def found_firmware_differs() -> None:
    """A unit was found with another firmware than recorded.

    Why it matters: what was tested was tested with the recorded one; over a pairing step the unit never registers.
    What to do: take its record first, since a step may clear the settings; then load the recorded version, or record
    what is there.
    """


@as_planned(
    Aspect.PORT,
    Aspect.VLAN,
    severity=Severity.WARNING,
    cites=(AS_BUILT, Cite("practice", "wrong port or VLAN: link and power, and no reply from anywhere in the plan")),
    finds=("The unit of dwelling 102 was found at port 12.", port_text("S1", 12)),
    passes=("It was found at S1 port 7, as planned.", port_text("S1", 7)),
)
def found_port_differs() -> None:
    """A unit was found at another switch port, or in another VLAN, than planned.

    Why it matters: the labels lead to the wrong socket, the switch's power sum is not the planned one, and in a wrong
    VLAN the unit has link and power and no reply.
    What to do: move the cable, or enter the port in the plan; set the planned VLAN at the port.
    """


@as_planned(
    Aspect.REGISTERED,
    severity=Severity.ERROR,
    cites=(BOTH_ENDS, Cite("rfc3261", "§10, registrations")),
    finds=("The unit of dwelling 102 was found not registered.", "no"),
    passes=("It was found registered.", "yes"),
)
def found_not_registered() -> None:
    """A unit was found not registered.

    Why it matters: no call reaches it.
    What to do: give a freshly paired unit some minutes and look again; then compare what both ends have.
    """


@as_planned(
    Aspect.LINK,
    severity=Severity.WARNING,
    cites=(
        Cite("ieee8023", "clause 40, 1000BASE-T over four pairs (from memory)"),
        Cite("practice", "one bad pair or connector: link at 10 or 100 Mb/s"),
    ),
    finds=("The unit of dwelling 102 was found with a link of 10 Mb/s.", "10"),
    passes=("It was found with a link of 100 Mb/s, as fast as its own port is.", "100"),
)
def found_link_slow() -> None:
    """A unit's link is down, or slower than its cable allows.

    Why it matters: one bad pair or connector shows so; later come errors, and restarts at night when the lamps of the
    camera come on.
    What to do: test the cable and both connectors pair by pair. A unit whose data sheet gives its port no more is
    right: waive the finding with that reason.
    """


@as_planned(
    Aspect.POE,
    severity=Severity.WARNING,
    cites=(
        Cite("ieee8023", "Clauses 33 and 145, the power of a port's class"),
        Cite("practice", "a unit takes no more than its data sheet says"),
    ),
    finds=("The port of dwelling 102's unit gives 20 W.", "20"),
    passes=("It gives 5.2 W.", "5.2"),
)
def found_power_differs() -> None:
    """A unit takes more power at its port than was reckoned with, or none.

    Why it matters: the budget of the switch was shared out by the data sheet; what takes more starves others after a
    power cut, and mostly drives something else too, or is another type. A unit that takes nothing is off, or fed by
    something that the plan does not know.
    What to do: see which type hangs there and what is connected to it; read its data sheet again and correct the
    profile. Where nothing is taken, see that the port gives power.
    """


@as_planned(
    Aspect.ADDRESS,
    Aspect.NAME,
    Aspect.SERIAL,
    Aspect.MAC,
    Aspect.MASK,
    Aspect.GATEWAY,
    over=Switch,
    of="switch-2",
    severity=Severity.WARNING,
    cites=(AS_BUILT,),
    finds=("Switch S2 was found at 198.51.100.9.", "198.51.100.9"),
    passes=("It was found at 198.51.100.3, as planned.", "198.51.100.3"),
)
def found_switch_differs() -> None:
    """A switch was found with another name, serial number, MAC address, address, mask or gateway than planned.

    Why it matters: whoever must look at a port or turn one off does not find the switch, or finds another.
    What to do: enter the planned values at the switch, or record what is there.
    """


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=ON_SITE,
    cites=(BOTH_ENDS, Cite("practice", "every key and number is tried before handover")),
    finds=Example(
        "Key 1.1 of the main VCU rang dwelling 102 instead of 101.",
        as_it_is,
        observed=(_seen(Subject(Unit.KIND, "vcu-main"), call_aspect("key 1.1 to 101"), str(_RANG_102)),),
    ),
    passes=Example(
        "All 36 calls that were made there went as proved.",
        as_it_is,
        observed=(_seen(Subject(Unit.KIND, "vcu-main"), CALLS, sum_text(36, 36)),),
    ),
)
def found_call_differs(facts: Facts, unit: Unit) -> Said:
    """A call went otherwise than the proof of the call paths says.

    Why it matters: a visitor rings at the wrong home or at none, somebody cannot let in who stands at the door, or
    frees a door that is not theirs to free. Where the door is on an escape route, nobody may count on this release: how
    people get out follows the fire strategy and the local code, and a competent person decides.
    What to do: compare both ends of the call, beginning with what differs first: who rang, who took the call, whether
    both heard each other, which door was freed. Then make the call again.
    """
    if facts.observations:
        yield from _told_all(facts.walk, compare_calls(facts.walk, facts.observations, unit))


@rule(
    over=Site,
    severity=Severity.WARNING,
    phases=ON_SITE,
    cites=(AS_BUILT,),
    finds=Example(
        "A MAC address was found at a port that nobody planned.",
        as_it_is,
        observed=(_seen(SITE_SUBJECT, stranger(Aspect.MAC, "00-00-5E-00-53-99"), port_text("S1", 12)),),
    ),
    passes=Example(
        "The unit with that MAC address was entered in the plan since.",
        put(Unit, "uru-2", mac="00-00-5E-00-53-99"),
        observed=(_seen(SITE_SUBJECT, stranger(Aspect.MAC, "00-00-5E-00-53-99"), port_text("S1", 12)),),
    ),
)
def found_unit_not_in_plan(facts: Facts, site: Site) -> Said:
    """Something was found that is not in the plan.

    Why it matters: it may be a unit that was forgotten, one whose label was misread, or something that has no business
    on this network.
    What to do: find it by its port. Enter it in the plan, or take it off.
    """
    del site  # asked for through the walk, so that a watch knows what was looked at
    for one in strangers(facts.walk, facts.observations):
        if one.known_now:
            yield HOLDS
        else:
            yield Found(
                f"{one.by} {one.identity} was found on {one.seen.seen_at:%Y-%m-%d} ({one.seen.value}) and is not in the"
                f" plan: {FIND_IT}"
            )
