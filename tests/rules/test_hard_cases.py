"""Cases between the two examples of a rule: where it must find one thing and not another."""

from datetime import date

import pytest

from doorwright.kernel.verdict import Finding, Missing, Subject
from doorwright.model.calling import Timetable, Window
from doorwright.model.door import Door, LockKind
from doorwright.model.network import CableRun, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance
from doorwright.model.power import Supply
from doorwright.model.profile import SecretPolicy
from doorwright.model.site import Choices, Site
from doorwright.model.unit import Key, KeyModule, SecretMark, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID
from doorwright.rules.example import Edit, both, plus, put, put_profile, put_site
from doorwright.rules.judge import Assessment, judge
from doorwright.rules.rule import Facts
from doorwright.rules.sound import sound_secrets, sound_site

TODAY = date(2031, 5, 6)


def assessed(rule: str, *edits: Edit) -> Assessment:
    site: Site = both(*edits)(sound_site())
    return judge(Facts(Walk(site), sound_secrets(), TODAY), [RULE_BY_ID[rule]])


def found(rule: str, *edits: Edit) -> tuple[Finding, ...]:
    return assessed(rule, *edits).findings


SECOND_BUILDING = plus(
    Building(id="building-2", name="Other House"),
    Core(id="core-b", building="building-2", name="Core B"),
    Entrance(id="entrance-b", name="Entrance B", serves_cores=("core-b",)),
    Dwelling(id="flat-b", door_label="101", core="core-b", level="level-1", call_number="101"),
)


def own_system(registrar: str) -> Edit:
    return plus(
        Unit(id="vcu-b", name="VCU B", kind=UnitKind.VCU, profile="vcu-direct", entrance="entrance-b", position=0),
        Unit(
            id="uru-b",
            name="B",
            kind=UnitKind.URU,
            profile="uru-video",
            dwelling="flat-b",
            position=0,
            registrar=registrar,
        ),
    )


def test_a_number_may_repeat_in_another_system_but_not_at_one_registrar() -> None:
    assert found("call-number-used-twice", SECOND_BUILDING, own_system("vcu-b")) == ()
    (clash,) = found("call-number-used-twice", SECOND_BUILDING, own_system("vcu-main"))
    assert set(clash.subjects) == {Subject("dwelling", "flat-1"), Subject("dwelling", "flat-b")}


def test_a_number_shared_with_the_desk_is_told_once() -> None:
    (clash,) = found("call-number-used-twice", put(Unit, "smu-desk", call_number="101"))
    assert set(clash.subjects) == {Subject("dwelling", "flat-1"), Subject("unit", "smu-desk")}


def test_three_that_share_a_serial_number_are_told_once() -> None:
    edits = (put(Unit, ident, serial="A00000009") for ident in ("uru-1", "uru-2"))
    (clash,) = found("serial-used-twice", *edits)
    assert {subject.id for subject in clash.subjects} == {"uru-1", "uru-2", "uru-4"}


@pytest.mark.parametrize(
    ("label", "number", "differs"),
    [
        ("Flat 7", "7", False),
        ("Flat 7", "07", False),
        ("007", "7", False),
        ("12A", "121", False),  # a keypad has no A
        ("12 A", "121", False),
        ("12", "121", True),
        ("12A", "112", True),
        ("Penthouse", "9", False),  # nothing on the door to dial
    ],
)
def test_the_number_on_the_door(label: str, number: str, differs: bool) -> None:
    edit = put(Dwelling, "flat-1", door_label=label, call_number=number)
    assert bool(found("number-differs-from-door", edit)) is differs


def windows(*spans: tuple[int, int, int]) -> Edit:
    made = tuple(Window(days=(day,), start_min=start, end_min=end) for day, start, end in spans)
    return put(Timetable, "times-trade", windows=made)


@pytest.mark.parametrize(
    ("spans", "count"),
    [
        ([(0, 60, 120), (1, 60, 120)], 0),
        ([(0, 1380, 120), (1, 60, 180)], 1),  # Monday night runs into Tuesday
        ([(6, 1380, 120), (0, 60, 180)], 1),  # Sunday night runs into Monday
        ([(6, 1380, 60), (0, 60, 180)], 0),
        ([(2, 0, 1440), (2, 600, 660), (2, 700, 710)], 2),  # both within one that holds all day
    ],
)
def test_windows_overlap_over_midnight_and_the_end_of_the_week(spans: list[tuple[int, int, int]], count: int) -> None:
    assert len(found("timetable-windows-overlap", windows(*spans))) == count


@pytest.mark.parametrize(
    ("window", "possible"),
    [
        (Window(days=(8,), start_min=0, end_min=60), False),
        (Window(days=(), start_min=0, end_min=60), False),
        (Window(days=(0,), start_min=1440, end_min=60), False),
        (Window(days=(0,), start_min=0, end_min=1440), True),
    ],
)
def test_windows_that_cannot_be(window: Window, possible: bool) -> None:
    assert bool(found("timetable-never-works", put(Timetable, "times-trade", windows=(window,)))) is not possible


def test_a_budget_that_is_just_met_is_met() -> None:
    # by their classes (IEEE 802.3: class 3 15.4 W, class 4 30 W): 15.4 + 30 + 30 + 30 + 3 × 15.4 = 151.6 W
    assert found("poe-budget-exceeded", put_profile("switch-16", poe_budget_w=151.6)) == ()
    (over,) = found("poe-budget-exceeded", put_profile("switch-16", poe_budget_w=151.5))
    assert over.message == "switch S1 (Riser A, level G): 7 units need 151.6 W by their classes, the budget is 151.5 W"


@pytest.mark.parametrize(
    ("address", "word"),
    [
        ("192.0.2.0", "network's own"),
        ("192.0.2.255", "broadcast"),
        ("192.0.2.1", "gateway"),
        ("192.0.2.9", "reserved"),
        ("192.0.2.99", "outside 192.0.2.5 to 192.0.2.90"),
        ("192.0.3.9", "outside the range"),
        ("192.0.2", "no IPv4 address"),
    ],
)
def test_addresses_that_must_not_be_issued(address: str, word: str) -> None:
    limits = put(Subnet, "net-units", first="192.0.2.5", last="192.0.2.90")
    (fault,) = found("address-not-to-be-issued", limits, put(Unit, "uru-2", address=address))
    assert word in fault.message


def test_a_link_of_two_addresses_has_neither_network_nor_broadcast_address() -> None:
    # RFC 3021, section 2.1
    narrow = put(Subnet, "net-units", cidr="192.0.2.20/31", gateway=None, reserved=())
    unit = put(Unit, "uru-2", address="192.0.2.20")
    rule = "address-not-to-be-issued"
    assert Subject("unit", "uru-2") not in {one.subjects[0] for one in found(rule, narrow, unit)}


@pytest.mark.parametrize("cidr", ["10.0.0.0/8", "172.16.0.0/12", "192.168.0.0/16", "203.0.113.0/24", "100.64.0.0/10"])
def test_ranges_set_aside(cidr: str) -> None:
    # RFC 1918 section 3, RFC 5737 section 3, RFC 6598 section 7
    assert found("public-addresses-inside", put(Subnet, "net-units", cidr=cidr)) == ()


@pytest.mark.parametrize("cidr", ["172.0.0.0/8", "172.32.0.0/16", "169.254.0.0/16", "198.51.101.0/24"])
def test_ranges_not_for_a_building(cidr: str) -> None:
    assert len(found("public-addresses-inside", put(Subnet, "net-units", cidr=cidr))) == 1


@pytest.mark.parametrize(
    ("firmware", "old"),
    [
        ("3.1", True),
        ("3.1.9", True),
        ("3.2-rc1", True),
        ("3.2", False),
        ("3.2.0", False),
        ("3.2.1", False),
        ("3.10", False),
        ("10", False),
    ],
)
def test_versions_are_compared_as_numbers(firmware: str, old: bool) -> None:
    assert bool(found("firmware-below-baseline", put(Unit, "vcu-main", firmware=firmware))) is old


def test_unrecorded_firmware_is_not_checked() -> None:
    whole = assessed("firmware-below-baseline", put(Unit, "vcu-main", firmware=None))
    assert set(whole.by_missing()) == {Missing("unit", "firmware")}


def test_a_ring_of_three_is_told_once() -> None:
    edits = [
        put(Unit, ident, registrar=to) for ident, to in (("uru-1", "uru-2"), ("uru-2", "uru-3"), ("uru-3", "uru-1"))
    ]
    (ring,) = found("registrar-loop", *edits)
    assert [subject.id for subject in ring.subjects] == ["uru-1", "uru-2", "uru-3"]


def test_a_secondary_of_a_dwelling_may_not_register_with_its_vcu() -> None:
    (wrong,) = found("registers-in-wrong-place", put(Unit, "uru-1b", registrar="vcu-main"))
    assert "the primary unit of its own dwelling" in wrong.message


@pytest.mark.parametrize("answer", [None, False])
def test_a_magnet_needs_both_answers(answer: bool | None) -> None:
    whole = assessed(
        "magnet-without-fire-release", put(Door, "door-main", fire_release=answer, emergency_release=answer)
    )
    if answer is None:
        assert set(whole.by_missing()) == {Missing("door", "fire release"), Missing("door", "emergency release")}
        assert whole.findings == ()
    else:
        (finding,) = whole.findings
        assert "no fire release and no emergency release" in finding.message


def test_a_magnet_on_a_fire_door_is_not_taken_for_a_strike() -> None:
    edit = put(Door, "door-main", fire_door=True, lock=LockKind.MAGNET)
    assert found("fire-door-unlatched", edit) == ()


def test_missing_profiles_are_told_once_and_leave_the_rest_unchecked() -> None:
    edit = put(Unit, "vcu-main", profile="nobody-knows")
    assert len(found("profile-not-in-site", edit)) == 1
    assert assessed("key-where-none-can-be", edit).by_missing().keys() == {Missing("unit", "profile")}
    assert found("key-where-none-can-be", edit) == ()


NIGHT_DESK = plus(Unit(id="smu-2", name="Night desk", kind=UnitKind.SMU, profile="smu-desk", call_number="8001"))
RUNES = SecretPolicy(length_min_count=8, length_max_count=16, alphabet="runes")

VARIANTS: list[tuple[str, Edit, str]] = [
    ("desk-number-missing-or-shared", NIGHT_DESK, "SMU Night desk has call number 8001, and so has SMU Desk"),
    ("key-rings-nothing", put(Key, "key-1", desk="smu-desk"), "both a dwelling and a desk"),
    ("key-rings-nothing", put(Key, "key-1", dwelling=None), "neither a dwelling nor a desk"),
    ("key-rings-nothing", put(Key, "key-desk", desk="uru-1"), "no desk unit"),
    ("key-where-none-can-be", put(Key, "key-1", module=2), "there is no module 2"),
    ("wrong-module", put(KeyModule, "module-1", unit="vcu-99"), "which the site does not have"),
    ("unit-belongs-nowhere", put(Unit, "vcu-rear", entrance="entrance-99"), "which the site does not have"),
    ("divert-to-no-desk", put(Timetable, "times-desk", divert_to=None), "does not say which desk"),
    ("divert-to-no-desk", put(Timetable, "times-desk", divert_to="smu-99"), "which the site does not have"),
    ("subnet-not-a-range", put(Subnet, "net-units", cidr="192.0.2.0/33"), "is no IPv4 range"),
    ("subnet-not-a-range", put(Subnet, "net-units", cidr="192.0.2.7"), "is the address of a host in 192.0.2.7/32") ,
    ("subnet-not-a-range", put(Subnet, "net-units", gateway="one"), "gateway 'one' is no IPv4 address"),
    ("subnet-not-a-range", put(Subnet, "net-units", reserved=("192.0.2.2 to 9",)), "neither an address nor a range"),
    ("gateway-outside-subnet", put(Subnet, "net-units", gateway="192.0.2.255"), "no host's address"),
    ("public-addresses-inside", put(Subnet, "net-units", cidr="169.254.3.0/24"), "link-local"),
    ("subnets-overlap", put(Subnet, "net-switches", vlan=20), "both in VLAN 20"),
    ("switch-address-not-to-be-issued", put(Switch, "switch-1", address=None), "has no address"),
    ("registrar-cannot-register", put(Unit, "uru-2", registrar="nobody"), "no unit or server of the site"),
    ("registers-in-wrong-place", put(Unit, "uru-2", registrar="vcu-rear"), "not with a primary visitor call unit"),
    ("unit-without-registrar", put(Unit, "vcu-rear", registrar=None), "has no registrar"),
    ("secret-not-in-vault", put(SecretMark, "secret-uru-1-sip", owner="uru-99"), "which the site does not have"),
    ("draw-above-class", put_profile("smu-desk", poe_class=9), "the classes are 0 to 8"),
    ("unit-not-cabled", put(CableRun, "run-uru-3", far="uru-2"), "has 2 cables: D7, D8"),
    ("cable-unsuitable", put(CableRun, "run-uru-2", cable="string"), "no known kind of cable"),
    ("cable-unsuitable", put(CableRun, "run-door-main", cable="cat6"), "a cable for data use, wanted power"),
    ("cable-unsuitable", put(CableRun, "run-uru-2", cable="fibre"), "a cable for optical use, wanted data"),
    ("cable-leads-nowhere", put(CableRun, "run-uru-2", near="riser"), "no switch, supply or junction"),
    ("cable-leads-nowhere", put(CableRun, "run-uru-2", far="door-main"), "which it cannot feed"),
    ("door-freed-by-nothing", put(Door, "door-rear", freed_by="vcu-99"), "no unit of the site"),
    ("mac-impossible", put(Unit, "uru-2", mac="00-00-5E-00-53"), "no MAC address of six octets"),
    ("mac-impossible", put(Unit, "uru-2", mac="00:00:00:00:00:00"), "the address of nobody"),
    ("switch-identity-wrong", put(Switch, "switch-1", mac=None), "its MAC address is not recorded"),
    ("profile-not-in-site", put(Unit, "uru-2", profile="vcu-keypad"), "is that of a VCU"),
    ("no-time-zone", put_site(time_zone="local time"), "does not look like"),
    ("no-edition-or-grade", put_site(grade=3), "there are 1 and 2"),
]  # fmt: skip


@pytest.mark.parametrize(("rule", "edit", "words"), VARIANTS)
def test_variants(rule: str, edit: Edit, words: str) -> None:
    messages = [finding.message for finding in found(rule, edit)]
    assert [message for message in messages if words in message], messages


@pytest.mark.parametrize(
    ("rule", "edit", "missing"),
    [
        ("unit-without-registrar", put(Unit, "vcu-rear", registrar=None, position=None), "position of unit"),
        ("dwelling-positions-wrong", put(Unit, "uru-1b", position=None), "position of unit"),
        ("address-not-to-be-issued", put(Unit, "uru-1b", subnet=None), "subnet of unit"),
        ("address-not-to-be-issued", put(Subnet, "net-units", cidr="nonsense"), "range of subnet"),
        ("registrar-out-of-reach", put(Unit, "vcu-main", subnet=None), "subnet of unit"),
        ("link-too-long", put(CableRun, "run-uru-2", length_m=None), "length of cable run"),
        ("too-little-power-at-unit", put(CableRun, "run-uru-2", length_m=None), "length of cable run"),
        ("lock-voltage-too-low", put(CableRun, "run-door-main", length_m=None), "length of cable run"),
        ("lock-of-other-voltage", put(Door, "door-main", lock_rated_v=None), "lock rated voltage of door"),
        ("supply-overloaded", put(Door, "door-main", lock_operate_a=None), "lock operating current of door"),
        ("contact-overloaded", put(Door, "door-main", lock_operate_a=None), "lock operating current of door"),
        ("port-used-twice", put(CableRun, "run-uru-2", near_port=None), "port of cable run"),
        ("release-too-short", put(Door, "door-main", release_s=None), "release time of door"),
        ("control-out-of-reach", put(Unit, "vcu-main", height_mm=None), "height of unit"),
        ("locked-on-escape-route", put(Door, "door-main", fail_mode=None), "fail mode of door"),
        ("fire-door-unlatched", put(Door, "door-rear", fire_door=None), "fire door of door"),
        ("output-not-there", put(Door, "door-rear", output=None), "output of door"),
        ("secret-not-accepted", put_profile("smu-desk", sip_secret=RUNES), "alphabet of the SIP secret of profile"),
    ],
)  # fmt: skip
def test_what_is_missing_is_said(rule: str, edit: Edit, missing: str) -> None:
    whole = assessed(rule, edit)
    assert {str(one) for one in whole.by_missing()} == {missing}
    assert whole.findings == ()


ASKING = both(
    put_profile("switch-16", poe_by_lldp=True, poe_budget_w=60.0), put_site(choices=Choices(poe_diversity_ratio=0.8))
)


def test_a_budget_that_counts_on_diversity_says_so_and_another_does_not() -> None:
    (short,) = found("poe-budget-exceeded", ASKING)
    assert "(taken: 80% of that at once)" in short.message
    (short,) = found("poe-budget-exceeded", ASKING, put_site(choices=Choices()))
    assert "taken" not in short.message
    # class power is set aside whole: no share of it is taken
    (short,) = found("poe-budget-exceeded", ASKING, put_profile("switch-16", poe_by_lldp=False))
    assert "taken" not in short.message


@pytest.mark.parametrize("rule", ["battery-too-small", "battery-empty-early"])
def test_a_battery_of_unknown_temperature_is_found_too_small_but_never_large_enough(rule: str) -> None:
    unsaid = put(Supply, "supply-1", battery_temperature_c=None)
    (short,) = found(rule, unsaid, put(Supply, "supply-1", standby_h=60.0))
    assert "cold is not counted" in short.message
    fits = assessed(rule, unsaid)
    assert fits.findings == ()
    assert [one.missing for one in fits.not_checked] == [(Missing("supply", "battery temperature"),)]
    frozen = assessed(rule, put(Supply, "supply-1", battery_temperature_c=-25.0))
    assert [one.missing for one in frozen.not_checked] == [(Missing("supply", "factor for cold below -6.7 °C"),)]


def test_a_battery_that_fits_warm_and_not_cold() -> None:
    # 0.25 A at rest, 0.75 A for the last half hour: 0.25 · 22 + 0.375 = 5.875 Ah; · 1.40 at -1.1 °C = 8.2 Ah of 7 Ah
    long = put(Supply, "supply-1", standby_h=22.5)
    assert found("battery-too-small", long, put(Supply, "supply-1", battery_temperature_c=25.0)) == ()
    (short,) = found("battery-too-small", long, put(Supply, "supply-1", battery_temperature_c=-1.1))
    assert "ask for 8.2 Ah" in short.message
    assert "cold is counted 1.40 times, for -1.1 °C" in short.message


@pytest.mark.parametrize("rule", ["door-holds-again-late", "bolt-thrown-before-leaf-is-home"])
def test_only_a_motor_is_asked_how_long_it_takes_to_lock(rule: str) -> None:
    unsaid = [put(Door, ident, relock_s=None) for ident in ("door-main", "door-rear", "door-gate")]
    missing = [(one.subjects, one.missing) for one in assessed(rule, *unsaid).not_checked]
    assert missing == [((Subject("door", "door-gate"),), (Missing("door", "relock time"),))]


def test_a_magnet_of_which_only_the_release_is_known_is_judged_by_that_alone() -> None:
    short = put(Door, "door-main", release_s=2.0, relock_s=None)
    assert found("magnet-catches-leaf-early", short) == ()
    assert len(found("release-too-short", short)) == 1
