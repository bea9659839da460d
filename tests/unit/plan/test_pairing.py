"""Both ends of a pairing. The facts that must agree are the trade's table (common practice), typed in below."""

from dataclasses import replace

import pytest

from doorwright.model.place import Building, Entrance
from doorwright.model.site import Site
from doorwright.model.walk import Walk
from doorwright.plan.pairing import Entry, pairing_of
from tests.unit.plan.block import block, planned, plus, put, server, subnet, unit

OWN = {"address", "mask", "gateway"}


def units_of(*more: object) -> Site:
    site = block({"A": {1: ["101"]}, "B": {1: ["102"]}})
    gate = Entrance(id="gate", name="Gate", serves_buildings=("block",), calls_desk=True)
    site = plus(site, gate, unit("vcu gate", entrance="gate"), unit("smu desk"), unit("uru second", dwelling="A/101"))
    site = plus(site, subnet("192.0.2.0/24", gateway="192.0.2.1"), *more)  # type: ignore[arg-type]
    serials = tuple(replace(one, serial=f"X{number:08d}") for number, one in enumerate(site.units, start=1))
    return planned(replace(site, units=serials)).site


def ends_of(site: Site, name: str) -> tuple[dict[str, Entry], dict[str, Entry]]:
    walk = Walk(site)
    pairing = pairing_of(walk, next(one for one in site.units if one.id == name))
    return {entry.name: entry for entry in pairing.at_unit}, {entry.name: entry for entry in pairing.at_registrar}


@pytest.mark.parametrize(
    ("name", "at_unit", "at_registrar"),
    [
        # primary URU with the entrance's primary VCU
        (
            "uru A/101",
            {"call number", "SIP secret", "registrar's address", *OWN},
            {"serial number", "call number", "device secret", "SIP secret", *OWN},
        ),
        # secondary URU with its dwelling's primary URU
        (
            "uru second",
            {"position", "SIP secret", "registrar's address", *OWN},
            {"serial number", "position", "device secret", *OWN},
        ),
        # secondary VCU with the primary VCU
        (
            "vcu A",
            {"position", "SIP secret", "registrar's address", *OWN},
            {"serial number", "position", "device secret", "SIP secret", *OWN},
        ),
        # desk with the primary VCU: called by a number of its own
        (
            "smu desk",
            {"call number", "SIP secret", "registrar's address", *OWN},
            {"serial number", "call number", "device secret", "SIP secret", *OWN},
        ),
        # the primary of the group: nothing to register with
        ("vcu gate", {"position", *OWN}, set()),
    ],
)
def test_between_units_each_end_has_its_facts_and_no_others(
    name: str, at_unit: set[str], at_registrar: set[str]
) -> None:
    here, there = ends_of(units_of(), name)
    assert set(here) == at_unit | {"device secret"}  # each unit's own settings are opened by it
    assert set(there) == at_registrar


@pytest.mark.parametrize("name", ["uru A/101", "vcu A", "smu desk", "vcu gate"])
def test_with_a_server_user_secret_realm_address_and_port_are_entered(name: str) -> None:
    here, there = ends_of(units_of(server(address="192.0.2.200", port=5080)), name)
    assert {"SIP user", "SIP secret", "realm", "registrar's address", "registrar's port"} <= set(here)
    assert set(there) == {"SIP user", "realm", "SIP secret", "calls fork to"}
    assert there["calls fork to"].value == name
    assert here["SIP user"].value == there["SIP user"].value is not None
    assert (here["registrar's address"].value, here["registrar's port"].value) == ("192.0.2.200", "5080")
    assert here["realm"].value == "example.org"


@pytest.mark.parametrize("name", ["uru A/101", "uru second", "vcu A", "smu desk"])
@pytest.mark.parametrize("more", [(), (server(address="192.0.2.200"),)])
def test_what_stands_at_both_ends_agrees(name: str, more: tuple[object, ...]) -> None:
    here, there = ends_of(units_of(*more), name)
    for shared in here.keys() & there.keys():
        assert here[shared] == there[shared]
        assert here[shared].value is not None


def test_the_registrars_address_is_the_registrars_own() -> None:
    site = units_of()
    own, _ = ends_of(site, "uru A/101")
    secondary, _ = ends_of(site, "uru second")
    gate, _ = ends_of(site, "vcu gate")
    assert own["registrar's address"].value == gate["address"].value
    assert secondary["registrar's address"].value == own["address"].value
    assert own["mask"].value == "255.255.255.0"  # 24 ones


def test_calls_fork_only_to_receivers_that_the_server_knows() -> None:
    site = units_of(server(address="192.0.2.200"))
    _, there = ends_of(site, "uru A/101")
    assert there["calls fork to"].value == "uru A/101"
    _, there = ends_of(put(site, "uru second", registrar="server"), "uru A/101")
    assert there["calls fork to"].value == "uru A/101, uru second"


def test_secrets_are_named_by_their_line_and_never_given() -> None:
    plan = planned(block({"A": {1: ["101"]}}))
    here, there = ends_of(plan.site, "uru A/101")
    secrets = [entry for entry in (*here.values(), *there.values()) if entry.secret]
    assert len(secrets) == 4
    assert all(entry.value is not None and entry.value.startswith("sealed sheet, line ") for entry in secrets)
    assert {entry.value for entry in secrets}.isdisjoint(plan.secrets.values())


def test_what_is_not_planned_yet_is_left_open() -> None:
    here, there = ends_of(put(block({"A": {1: ["101"]}}), "uru A/101", registrar="vcu A"), "uru A/101")
    assert here["address"].value is here["SIP secret"].value is here["mask"].value is None
    assert there["serial number"].value is there["device secret"].value is None


def test_a_vlan_is_entered_where_there_is_one() -> None:
    site = plus(put(block({"A": {1: ["101"]}}), "uru A/101", registrar="vcu A"), subnet("192.0.2.0/24", vlan=30))
    here, there = ends_of(planned(site).site, "uru A/101")
    assert here["VLAN"].value == there["VLAN"].value == "30"


# the trade's table of facts that must agree, row by row: (unit, site) -> what is set on the unit, what at the other end
OWN_ADDRESS = {"address"}
PLACE = {"address", "mask", "gateway"}
TABLE_ROWS = [
    (
        "primary URU with the primary VCU", "uru A/101", False,
        {"call number", "SIP secret", "registrar's address"} | OWN_ADDRESS,
        {"serial number", "call number", "device secret", "SIP secret"} | PLACE,
    ),
    (
        "primary URU with a server", "uru A/101", True,
        {"SIP user", "SIP secret", "registrar's address"} | OWN_ADDRESS,
        {"SIP user", "SIP secret", "calls fork to"},
    ),
    (
        "secondary URU with its dwelling's primary URU", "uru second", False,
        {"position", "SIP secret", "registrar's address"} | OWN_ADDRESS,
        {"serial number", "position", "device secret"} | PLACE,
    ),
    (
        "secondary URU with its primary, which is with a server", "uru second", True,
        {"position", "SIP secret", "registrar's address"} | OWN_ADDRESS,
        {"serial number", "position", "device secret"} | PLACE,
    ),
    (
        "secondary VCU with the primary VCU", "vcu A", False,
        {"position", "SIP secret", "registrar's address"} | OWN_ADDRESS,
        {"serial number", "position", "device secret", "SIP secret"} | PLACE,
    ),
    *(
        (
            f"any unit with a SIP server: {name}", name, True,
            {"SIP user", "SIP secret", "realm", "registrar's address", "registrar's port"},
            {"SIP user", "SIP secret", "realm", "calls fork to"},
        )
        for name in ("uru A/101", "vcu gate", "vcu A", "smu desk")
    ),
]  # fmt: skip


@pytest.mark.parametrize(
    ("name", "with_server", "at_unit", "at_registrar"),
    [row[1:] for row in TABLE_ROWS],
    ids=[row[0] for row in TABLE_ROWS],
)
def test_each_row_of_the_table_is_on_the_card_with_a_value(
    name: str, with_server: bool, at_unit: set[str], at_registrar: set[str]
) -> None:
    more = (server(address="192.0.2.200"),) if with_server else ()
    here, there = ends_of(units_of(*more), name)
    assert at_unit <= set(here)
    assert at_registrar <= set(there)
    assert all(here[field].value for field in at_unit)
    assert all(there[field].value for field in at_registrar)


def test_in_a_mixed_site_each_card_names_its_own_registrar() -> None:
    only_annex = replace(server(address="192.0.2.200"), serves_buildings=("annex",))
    site = plus(block({"A": {1: ["101"]}, "B": {1: ["102"]}}), Building(id="annex", name="Annex"), only_annex)
    site = replace(site, cores=(site.cores[0], replace(site.cores[1], building="annex")))
    site = planned(plus(site, subnet("192.0.2.0/24", gateway="192.0.2.1"))).site
    embedded, _ = ends_of(site, "uru A/101")
    served, there = ends_of(site, "uru B/102")
    vcu, _ = ends_of(site, "vcu A")
    assert embedded["registrar's address"].value == vcu["address"].value
    assert embedded["call number"].value == "101"
    assert "realm" not in embedded
    assert (served["registrar's address"].value, served["SIP user"].value) == ("192.0.2.200", "102")
    assert there["realm"].value == served["realm"].value == "example.org"
