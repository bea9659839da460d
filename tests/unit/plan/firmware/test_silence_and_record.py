"""Who falls silent, what must be recorded first, and what is entered again."""

from dataclasses import replace
from datetime import UTC, datetime

from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.model.aspect import Aspect
from doorwright.model.door import Door
from doorwright.model.place import Entrance
from doorwright.model.site import Site
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.firmware.jobs import task_of
from doorwright.plan.firmware.pairs import silences
from doorwright.plan.firmware.rebuild import in_order_of_work, rebuild_lines
from doorwright.plan.firmware.record import Gap, gaps
from doorwright.plan.firmware.steps import steps_to
from doorwright.plan.firmware.waves import plan_waves
from tests.unit.plan.block import block, plus, put, server, subnet, unit
from tests.unit.plan.firmware.stepping import line, stepping

CROSSING = (line("1", 1), line("2", 2, keeps=False, step_s=300.0))


def bare() -> Site:
    made = plus(
        block({"A": {1: ["1", "2"]}}, vcu="vcu-direct"),
        Entrance(id="gate", name="Gate", serves_buildings=("block",)),
        unit("vcu gate", entrance="gate"),
        unit("uru second", dwelling="A/2"),
        subnet("192.0.2.0/24", gateway="192.0.2.1"),
        Door(id="leaf", name="Gate leaf", entrance="gate", freed_by="vcu gate", output=1, release_s=5.0),
    )
    return stepping(made, *CROSSING, now="1", restart_s=60.0, settle_s=120.0)


def full() -> Site:
    """The same, with every serial number and MAC address (RFC 7042 documentation range) in the book."""
    made = bare()
    return replace(
        made,
        units=tuple(
            replace(one, serial=f"A{number:08d}", mac=f"00-00-5E-00-53-{number:02X}")
            for number, one in enumerate(made.units)
        ),
    )


def missing(site: Site, *idents: str, seen: tuple[Observation, ...] = (), vault: bool = True) -> tuple[Gap, ...]:
    walk = Walk(site)
    units = [walk.get(Unit, ident) for ident in idents] or list(site.units)
    sealed = {mark.id for mark in site.secrets} if vault else set()
    return gaps(walk, units, sealed=sealed, seen=what_counts(seen, Stage.FOUND))


def test_a_full_record_misses_nothing() -> None:
    assert missing(full()) == ()


def test_what_a_unit_would_lose_is_listed_once() -> None:
    site = put(full(), "uru A/1", serial=None, mac=None)
    # its serial number is at its own end no more than at its registrar's: told once
    assert [(gap.about.id, gap.field) for gap in missing(site)] == [
        ("uru A/1", "serial number"),
        ("uru A/1", "MAC address"),
    ]


def test_a_cleared_registrar_loses_what_it_knows_of_others() -> None:
    site = put(full(), "uru A/1", serial=None, address=None)
    (serial, address) = missing(site, "vcu gate")
    assert (serial.unit.id, serial.about.id, serial.field) == ("vcu gate", "uru A/1", "serial number")
    assert address.field == "address"
    assert missing(site, "vcu A") == ()


def test_secrets_must_be_issued_and_in_the_vault() -> None:
    site = full()
    not_there = missing(site, "vcu A", vault=False)
    assert {gap.field for gap in not_there} == {"device secret", "SIP secret"}
    assert all(gap.problem.endswith("is not in the vault") for gap in not_there)
    without = replace(site, secrets=tuple(mark for mark in site.secrets if mark.owner != "vcu A"))
    assert [gap.problem for gap in missing(without, "vcu A")] == ["not issued by the plan"] * 2


def observed(aspect: Aspect, value: str) -> Observation:
    subject = full().units[-1].subject
    return Observation(
        id=f"{aspect}", stage=Stage.FOUND, subject=subject, aspect=aspect, value=value,
        seen_at=datetime(2030, 5, 6, 7, 8, tzinfo=UTC), seen_by="A. Fitter",
    )  # fmt: skip


def test_what_is_only_known_as_found_is_not_yet_in_the_record() -> None:
    last = full().units[-1]
    site = put(full(), last.id, serial=None)
    (gap,) = missing(site, last.id, seen=(observed(Aspect.SERIAL, "A00000099"),))
    assert gap.problem == "only seen on site: A00000099"
    (differs,) = missing(full(), last.id, seen=(observed(Aspect.ADDRESS, "192.0.2.200"),))
    assert differs.problem.endswith("on site it was seen as 192.0.2.200")
    assert missing(full(), last.id, seen=(observed(Aspect.ADDRESS, last.address or ""),)) == ()


def test_a_release_time_nobody_wrote_down_is_missing() -> None:
    site = full()
    site = replace(site, doors=tuple(replace(door, release_s=None) for door in site.doors))
    assert [gap.field for gap in missing(site, "vcu gate")] == ["release time of Gate leaf"]


def test_a_direct_key_unit_without_keys_has_no_record_of_them() -> None:
    assert [gap.field for gap in missing(replace(full(), keys=()), "vcu A")] == ["key plan"]


def test_a_receiver_without_a_registrar_cannot_be_rebuilt() -> None:
    assert "registrar" in [gap.field for gap in missing(put(full(), "uru A/1", registrar=None), "uru A/1")]


def test_a_subnet_without_a_gateway_needs_none() -> None:
    site = full()
    assert missing(replace(site, subnets=tuple(replace(one, gateway=None) for one in site.subnets))) == ()


def test_entries_are_both_a_units_own_and_what_it_knows_of_others() -> None:
    site = full()
    walk = Walk(site)
    gate = walk.get(Unit, "vcu gate")
    lines = list(rebuild_lines(walk, gate))
    assert {one.about.id for one in lines} == {"vcu gate", "vcu A", "uru A/1", "uru A/2"}
    # the trade's table: a primary receiver at its registrar has serial, number, address, mask, gateway, both secrets
    about = [(one.field, one.value) for one in lines if one.about.id == "uru A/1"]
    assert [field for field, _ in about] == [
        "serial number", "call number", "address", "mask", "gateway", "device secret", "SIP secret",
    ]  # fmt: skip
    assert ("release time of Gate leaf", "5 s") in [(one.field, one.value) for one in lines]
    secrets = [one for one in lines if one.secret is not None]
    assert all((one.value or "").startswith("sealed sheet, line ") for one in secrets)
    assert {one.secret for one in secrets} == {SecretUse.DEVICE, SecretUse.SIP}


def test_keys_stand_with_the_number_they_ring() -> None:
    walk = Walk(full())
    keys = [one.value for one in rebuild_lines(walk, walk.get(Unit, "vcu A")) if one.end == "its keys"]
    assert sorted(value or "" for value in keys) == ["rings 1 (dwelling 1)", "rings 2 (dwelling 2)"]


def test_registrars_are_set_up_first() -> None:
    walk = Walk(full())
    order = [one.id for one in in_order_of_work(walk, walk.all(Unit))]
    assert order[0] == "vcu gate"
    assert order.index("uru A/2") < order.index("uru second")


def silent(site: Site, targets: dict[str, str]) -> dict[tuple[str, str], tuple[int, int, bool]]:
    walk = Walk(site)
    plan = plan_waves(walk, task_of(walk, steps_to(walk, targets).steps, 1), 0.0)
    return {(one.unit.id, one.other.id): (one.silent_min, one.apart_min, one.for_good) for one in silences(walk, plan)}


def test_pairs_left_on_both_sides_are_silent_for_good() -> None:
    found = silent(full(), {"vcu-directory": "2"})
    assert set(found) == {("vcu A", "vcu gate"), ("uru A/1", "vcu gate"), ("uru A/2", "vcu gate")}
    assert all(for_good for _, _, for_good in found.values())


def test_secondary_and_primary_of_a_dwelling_are_a_pair() -> None:
    found = silent(put(full(), "uru second", profile="uru-audio"), {"uru-video": "2"})
    assert found["uru second", "uru A/2"][2]


def test_a_group_of_entrances_is_a_pair_also_where_a_server_registers_both() -> None:
    site = stepping(plus(bare(), server(address="192.0.2.9")), *CROSSING, now="1", plan=False)
    units = tuple(replace(one, registrar="server") if one.entrance else one for one in site.units)
    found = silent(replace(site, units=units), {"vcu-direct": "2"})
    assert found["vcu A", "vcu gate"][2]


def test_pairs_that_cross_together_talk_again() -> None:
    wide = block({"A": {1: [str(number) for number in range(1, 21)]}})
    site = stepping(wide, *CROSSING, now="1", restart_s=60.0, settle_s=120.0)
    found = silent(site, {"vcu-directory": "2", "uru-video": "2"})
    # one technician cannot be at twenty receivers while their registrar is down
    assert found
    assert not any(for_good for _, _, for_good in found.values())
    assert all(0 < apart <= whole for whole, apart, _ in found.values())


def test_pairs_of_one_generation_are_not_listed() -> None:
    same = stepping(bare(), line("1", 1), line("2", 1), now="1", plan=False)
    assert silent(same, {"vcu-directory": "2", "uru-video": "2"}) == {}
