"""What stands in a touch list: settings by the trade's table of facts, work by hand, order, tests."""

from dataclasses import replace

from doorwright.model.change import apply, diff
from doorwright.model.door import Door
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import SecretMark, SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.settings import settings_of, shown
from doorwright.plan.touch import Touch, touch_list
from tests.unit.plan.block import block, planned, plus, put, run, server, subnet, switch

SITE = planned(
    plus(
        block({"A": {0: ["1"], 1: ["2"]}}, vcu="vcu-direct"),
        Door(id="front", name="Front door", entrance="at A", freed_by="vcu A", output=1),
        subnet("192.0.2.0/24", gateway="192.0.2.1", vlan=9),
        switch("S1"),
        run("C1", "S1", "uru A/1"),
    )
).site


def touched(after: Site, before: Site = SITE) -> dict[str, Touch]:
    touches = touch_list(Walk(before), Walk(after), diff(before, after))
    return {touch.name: touch for touch in touches}


def line_of(owner: str, use: SecretUse) -> str:
    mark = next(one for one in SITE.secrets if (one.owner, one.use) == (owner, use))
    return f"sealed sheet, line {mark.line}"


def test_settings_are_what_the_trade_enters_at_each_end() -> None:
    # common practice, the table of facts that must agree at both ends of a pairing: primary receiver with primary VCU
    walk = Walk(SITE)
    uru = walk.get(Unit, "uru A/1")
    own = {name: shown(value) for name, value in settings_of(walk, uru).items()}
    assert own == {
        "call number": "1", "address": uru.address, "mask": "255.255.255.0", "gateway": "192.0.2.1", "VLAN": "9",
        "registrar's address": walk.get(Unit, "vcu A").address,
        "device secret": line_of(uru.id, SecretUse.DEVICE), "SIP secret": line_of(uru.id, SecretUse.SIP),
        "ringing A/1": "30 s",  # the site's choice where nobody made another
    }  # fmt: skip
    at_vcu = settings_of(walk, walk.get(Unit, "vcu A"))
    far = {name.partition(": ")[2] for name in at_vcu if name.startswith("pairing uru A/1: ")}
    # the serial number of the box is not known yet: what is not planned is left out
    assert far == {"call number", "address", "mask", "gateway", "VLAN", "device secret", "SIP secret"}
    assert {name: value for name, value in at_vcu.items() if name.startswith("key ")} == {
        "key 0.1": "2",
        "key 1.1": "1",
    }
    assert settings_of(walk, SITE.switches[0])["port 1"] == "uru A/1, VLAN 9"  # a person sets the VLAN there too


def test_a_renewed_secret_is_a_change_even_on_the_same_line() -> None:
    marks = tuple(
        replace(mark, id="renewed") if (mark.owner, mark.use) == ("uru A/1", SecretUse.SIP) else mark
        for mark in SITE.secrets
    )
    touches = touched(SITE.with_tables({SecretMark: marks}))
    assert list(touches) == ["vcu A", "uru A/1"]
    for touch in touches.values():
        (entry,) = touch.entries
        assert entry.secret
        assert shown(entry.old or "") == shown(entry.new or "") == line_of("uru A/1", SecretUse.SIP)


def test_a_number_reaches_the_receiver_the_panel_and_its_key() -> None:
    touches = touched(put(SITE, "A/1", call_number="77"))
    assert list(touches) == ["vcu A", "uru A/1"]
    assert [(entry.heading, entry.name, entry.old, entry.new) for entry in touches["vcu A"].entries] == [
        ("for uru A/1", "call number", "1", "77"),
        ("keys", "key 1.1 rings", "1", "77"),
    ]
    assert touches["vcu A"].legend_modules == ()  # the strip names the door, which has not changed
    (test,) = touches["uru A/1"].tests
    assert (test.entrance, test.called, test.doors) == ("Entrance A", ("1",), ("Front door",))


def test_a_new_door_label_is_a_strip_and_a_label() -> None:
    touches = touched(put(SITE, "A/1", door_label="1A"))
    assert touches["vcu A"].legend_modules == (1,)
    assert touches["vcu A"].work == ("hang a new legend strip: module 1",)
    assert touches["uru A/1"].work == ("print and stick its label",)
    assert not any(touch.entries for touch in touches.values())


def test_a_swapped_panel_cautions_of_the_doors_that_it_frees() -> None:
    before = put(SITE, "vcu A", serial="A00000001")
    touches = touched(put(before, "vcu A", serial="A00000002"), before)
    panel = touches["vcu A"]
    assert panel.fresh
    assert all(entry.old is None for entry in panel.entries)
    assert any("Front door" in caution and "escape route" in caution for caution in panel.cautions)
    assert panel.work[0].startswith("take the old one down (serial number A00000001)")
    assert [test.called for test in panel.tests] == [("1", "2")]


def test_a_serial_number_that_was_not_known_is_no_swap() -> None:
    touches = touched(put(SITE, "uru A/1", serial="A00000001"))
    assert not any(touch.fresh for touch in touches.values())
    assert [entry.new for entry in touches["vcu A"].entries] == ["A00000001"]


def test_what_is_taken_away_comes_first() -> None:
    gone = Site.with_tables(SITE, {Unit: tuple(unit for unit in SITE.units if unit.id != "uru A/2")})
    touches = touched(gone)
    assert next(iter(touches)) == "uru A/2"
    assert touches["uru A/2"].gone
    assert touches["uru A/2"].tests == ()


def test_registrars_come_before_what_registers_with_them() -> None:
    after = planned(
        plus(SITE, server(address="192.0.2.9"), Dwelling(id="A/3", door_label="3", core="A", level="L1")),
        prefix="later ",
    )
    touches = touched(apply(SITE, diff(SITE, after.site)))
    names = list(touches)
    assert names.index("Server") < names.index("vcu A")
