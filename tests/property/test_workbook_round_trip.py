"""A site written to a workbook and read back is the same site, with and without the site it came from."""

import itertools
import tempfile
from datetime import date
from decimal import Decimal
from pathlib import Path
from typing import Any

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from pydantic import TypeAdapter

from doorwright import data
from doorwright.model.calling import Divert, DivertCause, RingMode, Timetable, TimetablePurpose, Window
from doorwright.model.door import Door, FailMode, LockKind, LockTakes, ReleaseRight
from doorwright.model.habits import CallHabits
from doorwright.model.media import MediaChoices
from doorwright.model.network import CableRun, Junction, SipServer, Subnet, Switch
from doorwright.model.place import Building, Core, Dwelling, Entrance, Level, Place, PlaceKind
from doorwright.model.power import Supply
from doorwright.model.price import Price, PricedBy
from doorwright.model.profile import Profile
from doorwright.model.site import Choices, KeyOrder, NumberPrefix, NumberScheme, Site
from doorwright.model.unit import Key, KeyModule, SecretMark, SecretUse, Unit, UnitKind
from doorwright.store.workbook import read_workbook, workbook_bytes

ADAPTER = TypeAdapter(Profile)
PROFILES = {key: ADAPTER.validate_python({**row, "key": key}) for key, row in data.table("profiles").items()}

# What a spreadsheet cell cannot hold is left out: surrogates and the two non-characters of XML. Stray spaces are
# cleaned on reading, so a text with them comes back without; a lone dash means "clear".
_ODD = st.sampled_from(
    ["=1+1", "+49", "@home", "=HYPERLINK(\"http://example.org\",\"x\")", "12", "12.0", "007", "1-24", "G01-G08", "24-1",
     "all", "Flat 12", "flat 12", "A/12", "A, B", 'the "old" house', "שלום", "🏠 home", "Ground", "TRUE", "1e5", "-1",
     "Type", "Name", "core: A", "[x]", "'quoted", "#9", "A; B", "a:b", "x\u200dy", "Zoë", "yes", "2024-01-02"]
)  # fmt: skip
_TEXT = st.text(st.characters(exclude_categories=("Cs", "Cn", "Co")), min_size=1, max_size=12)


def _settled(text: str) -> str:
    return " ".join(text.replace("\u200b", "").replace("\u2060", "").replace("\ufeff", "").split())


NAMES = st.one_of(_ODD, _TEXT).map(_settled).filter(lambda text: text and text not in {"-", "–", "—"})
ALPHA = st.one_of(_ODD, st.sampled_from(["Flat", "Owner", "Note: x", "Colour", "Id", "Type", "remark"]))


def maybe(strategy: st.SearchStrategy[Any]) -> st.SearchStrategy[Any]:
    return st.none() | strategy


def readable(text: str) -> bool:
    """Not an error of a formula, and not a number that lost its digits: those are mistakes wherever they stand."""
    return not text.startswith(("#", "Err:")) and "e+" not in text.casefold()


NAME = NAMES.filter(readable)
NOTES = st.lists(st.tuples(ALPHA.map(_settled).filter(readable), NAME), max_size=3).map(tuple)
SITE_NOTES = st.dictionaries(NAME.filter(lambda text: not text.startswith("Note:")), NAME, max_size=2).map(
    lambda notes: tuple(notes.items())
)
DAYS = st.dates(date(1990, 1, 1), date(2150, 12, 31))
FIGURE = st.integers(0, 10_000).map(lambda number: number / 16)
SHARE = st.integers(0, 64).map(lambda number: number / 64)
AMOUNT = st.one_of(
    st.decimals(0, 10**6, places=2), st.decimals(0, 10**6, places=14),
    st.sampled_from([Decimal("0.1"), Decimal("9.95"), Decimal("1E+3"), Decimal("0.30000000000000004"), Decimal(0)]),
)  # fmt: skip
HABITS = st.builds(
    CallHabits, calls_per_dwelling_count=FIGURE, answer_ratio=SHARE, answer_s=FIGURE, talk_s=FIGURE, retry_ratio=SHARE,
    retry_after_s=FIGURE, desk_ratio=SHARE, desk_talk_s=FIGURE, desk_patience_s=FIGURE, busy_ratio=SHARE,
    desk_wait_s=FIGURE, desk_within_ratio=SHARE,
    hour_weights=st.lists(st.floats(0, 1e6), min_size=24, max_size=24).filter(any).map(tuple),
)  # fmt: skip
MEDIA = st.builds(
    MediaChoices, packet_ms=FIGURE.map(lambda figure: figure + 1), tagged=st.booleans(), video_multicast=st.booleans(),
    loss_ratio=SHARE, burst_ratio=FIGURE.map(lambda figure: figure + 1), hop_delay_ms=FIGURE, jitter_buffer_ms=FIGURE,
    link_use_ratio=SHARE,
)  # fmt: skip
PRACTICES = tuple(data.table("standby"))


@st.composite
def sites(draw: st.DrawFn) -> Site:  # noqa: C901  (one list after another, a kind of part each)
    number = itertools.count(1)

    def ident() -> str:
        return f"i{next(number)}"

    def some(low: int, high: int) -> range:
        return range(draw(st.integers(low, high)))

    def one(parts: list[Any]) -> str:
        return str(draw(st.sampled_from(parts)).id)

    def one_or_none(parts: list[Any]) -> str | None:
        return draw(maybe(st.sampled_from([part.id for part in parts]))) if parts else None

    def several(parts: list[Any]) -> tuple[str, ...]:
        return (
            tuple(draw(st.lists(st.sampled_from([part.id for part in parts]), unique=True, max_size=5)))
            if parts
            else ()
        )

    serials = (f"S{n:07d}" for n in itertools.count())
    macs = (f"00-00-5E-00-53-{n:02X}" for n in itertools.count())
    hosts = (f"192.0.2.{n}" for n in itertools.count(1))

    def notes() -> Any:
        return draw(NOTES)

    def text() -> str:
        return draw(NAME)

    def yes_no() -> Any:
        return draw(maybe(st.booleans()))

    def figure() -> Any:
        return draw(maybe(FIGURE))

    def count() -> Any:
        return draw(maybe(st.integers(1, 99)))

    buildings = [Building(id=ident(), name=text(), notes=notes()) for _ in some(1, 3)]
    cores = [
        Core(id=ident(), building=one(buildings), name=text(), x_m=figure(), y_m=figure(), notes=notes())
        for _ in some(1, 3)
    ]
    levels = [
        Level(
            id=ident(), building=one(buildings), name=text(), order=draw(st.integers(-3, 40)), height_m=figure(),
            crosses=draw(st.booleans()),
        )
        for _ in some(1, 3)
    ]  # fmt: skip
    dwellings: list[Dwelling] = []
    for _ in some(0, 6):
        made = Dwelling(
            id=ident(), door_label=text(), core=one(cores), level=one(levels), call_number=draw(maybe(NAME)),
            legend=draw(maybe(NAME)), ring_mode=draw(maybe(st.sampled_from(RingMode))), ring_s=count(),
            run_m=figure(), notes=notes(),
        )  # fmt: skip
        if all((made.core, made.door_label.casefold()) != (d.core, d.door_label.casefold()) for d in dwellings):
            dwellings.append(made)
    places = [
        Place(
            id=ident(), name=text(), kind=draw(st.sampled_from(PlaceKind)), building=one_or_none(buildings),
            core=one_or_none(cores), level=one_or_none(levels), run_m=figure(),
            switches_max_count=draw(maybe(st.integers(0, 9))), main=draw(st.booleans()),
        )
        for _ in some(0, 3)
    ]  # fmt: skip
    entrances = [
        Entrance(
            id=ident(), name=text(), place=one_or_none(places), serves_buildings=several(buildings),
            serves_cores=several(cores), serves_dwellings=several(dwellings), calls_desk=draw(st.booleans()),
        )
        for _ in some(0, 2)
    ]  # fmt: skip
    subnets = [
        Subnet(
            id=ident(), name=text(), cidr="192.0.2.0/24", gateway=draw(maybe(st.just("192.0.2.254"))),
            vlan=draw(maybe(st.integers(0, 4095))),
            reserved=draw(st.sampled_from([(), ("192.0.2.7", "192.0.2.8-192.0.2.9")])),
            kinds=draw(st.sampled_from([(), ("VCU",), ("URU", "switch")])),
        )
        for _ in some(0, 2)
    ]  # fmt: skip
    servers = [
        SipServer(
            id=ident(), name=text(), address=next(hosts), realm=draw(maybe(NAME)), calls_max_count=count(),
            serves_buildings=several(buildings),
        )
        for _ in some(0, 1)
    ]  # fmt: skip
    units: list[Unit] = []
    for _ in some(0, 5):
        key = draw(st.sampled_from(["vcu-direct", "vcu-keypad", "uru-video", "smu-desk"]))
        units.append(
            Unit(
                id=ident(), name=text(), kind=UnitKind(PROFILES[key].kind.value), profile=key,
                entrance=one_or_none(entrances), dwelling=one_or_none(dwellings), place=one_or_none(places),
                serial=draw(maybe(st.just(next(serials)))), mac=draw(maybe(st.just(next(macs)))),
                firmware=draw(maybe(NAME)), subnet=one_or_none(subnets), address=draw(maybe(st.just(next(hosts)))),
                call_number=draw(maybe(NAME)), position=draw(maybe(st.integers(0, 9))),
                registrar=one_or_none([*units, *servers]), height_mm=draw(maybe(st.integers(0, 2500))), notes=notes(),
            )
        )  # fmt: skip
    doors = [
        Door(
            id=ident(), name=text(), entrance=one(entrances), lock=draw(maybe(st.sampled_from(LockKind))),
            fail_mode=draw(maybe(st.sampled_from(FailMode))), freed_by=one_or_none(units), output=count(),
            release_s=figure(), lock_rated_v=figure(), lock_operate_a=figure(), lock_minimum_v=figure(),
            escape_route=yes_no(), fire_door=yes_no(), fire_release=yes_no(), emergency_release=yes_no(),
            lock_takes=draw(st.sampled_from(LockTakes)), lock_inrush_a=figure(), lock_hold_a=figure(),
            lock_suppressed=yes_no(), relock_s=figure(), exit_button=yes_no(),
            exit_button_height_mm=draw(maybe(st.integers(0, 2500))),
        )
        for _ in (some(0, 2) if entrances else ())
    ]  # fmt: skip
    switches = [
        Switch(id=ident(), name=text(), profile="switch-8", place=one_or_none(places), serial=next(serials))
        for _ in some(0, 2)
    ]
    supplies = [
        Supply(
            id=ident(), name=text(), profile="supply-12v-5a", battery_ah=figure(), standby_h=figure(),
            battery_rate_h=draw(maybe(FIGURE.filter(bool))), standby_busy_h=figure(),
            battery_temperature_c=draw(maybe(st.integers(-400, 800).map(lambda number: number / 16))),
        )
        for _ in some(0, 2)
    ]  # fmt: skip
    junctions = [Junction(id=ident(), name=text(), place=one_or_none(places), notes=notes()) for _ in some(0, 2)]
    modules = [
        KeyModule(id=ident(), unit=one(units), profile="key-module-6", ordinal=n + 1, serial=next(serials))
        for n in (some(0, 2) if units else ())
    ]
    keys = [
        Key(
            id=ident(), unit=one(units), module=draw(st.integers(0, 3)), slot=n + 1, dwelling=one_or_none(dwellings),
            desk=one_or_none(units),
        )
        for n in (some(0, 3) if units else ())
    ]  # fmt: skip
    ends: list[Any] = [*units, *switches, *supplies, *doors, *junctions]
    runs = [
        CableRun(
            id=ident(), name=text(), near=one(ends), far=one(ends), near_port=count(), far_port=count(),
            cable=draw(maybe(NAME)), length_m=figure(), temperature_c=figure(), fuse_a=figure(), bundle_count=count(),
        )
        for _ in (some(0, 3) if ends else ())
    ]  # fmt: skip
    window = st.builds(
        Window,
        days=st.lists(st.integers(0, 7), min_size=1, max_size=8, unique=True).map(tuple),
        start_min=st.integers(0, 1439),
        end_min=st.integers(0, 1440),
    )
    timetables = [
        Timetable(
            id=ident(), name=text(), entrance=one(entrances), purpose=draw(st.sampled_from(TimetablePurpose)),
            windows=tuple(draw(st.lists(window, max_size=3))), divert_to=one_or_none(units),
            closed_on_holidays=draw(st.booleans()),
        )
        for _ in (some(0, 3) if entrances else ())
    ]  # fmt: skip
    diverts = [
        Divert(
            id=ident(), cause=draw(st.sampled_from(DivertCause)), dwelling=one_or_none(dwellings),
            entrance=one_or_none(entrances), timetable=one_or_none(timetables), to_dwelling=one_or_none(dwellings),
            to_desk=one_or_none(units), desk=one_or_none(units), notes=notes(),
        )
        for _ in some(0, 3)
    ]  # fmt: skip
    rights = []
    for _ in some(0, 3) if doors else ():
        who = several(buildings), several(cores), several(dwellings), several(units)
        if any(who):
            right = ReleaseRight(
                id=ident(), door=one(doors), timetable=one_or_none(timetables), buildings=who[0], cores=who[1],
                dwellings=who[2], desks=who[3],
            )  # fmt: skip
            rights.append(right)
    prices = [
        Price(
            id=ident(), item=text(), amount=draw(AMOUNT), per=draw(st.sampled_from(PricedBy)), drum_m=figure(),
            notes=notes(),
        )
        for _ in some(0, 3)
    ]  # fmt: skip
    holidays = tuple(draw(st.lists(DAYS, unique=True, max_size=3)))
    called = tuple((f"Holiday {day}", text()) for day in holidays if draw(st.booleans()))
    secrets = [
        SecretMark(id=ident(), owner=one([*units, *switches]), use=draw(st.sampled_from(SecretUse)), line=n + 1)
        for n in (some(0, 2) if units or switches else ())
    ]
    fitted: tuple[Any, ...] = (*units, *switches, *supplies, *modules)
    used = {part.profile for part in fitted}
    used |= {str(PROFILES[key].module) for key in used if PROFILES[key].module}
    return Site(
        name=text(), reference=draw(maybe(NAME)), time_zone=draw(st.sampled_from([None, "Europe/Paris"])),
        standard_edition=draw(maybe(NAME)), grade=draw(st.sampled_from([None, 1, 2])), record_keeper=draw(maybe(NAME)),
        choices=Choices(
            number_scheme=draw(st.sampled_from(NumberScheme)), number_digits_count=count(),
            key_order=draw(st.sampled_from(KeyOrder)), spare_ratio=draw(st.sampled_from([0.0, 0.2, 0.35])),
            ambient_c=draw(st.sampled_from([30.0, -5.5])), number_prefix=draw(st.sampled_from(NumberPrefix)),
            ring_mode=draw(st.sampled_from(RingMode)), ring_s=draw(st.integers(1, 999)),
            reserved_numbers=draw(st.sampled_from([(), ("0",), ("007", "8-12", "900-999")])),
            slack_m=draw(FIGURE), link_max_m=draw(FIGURE), waste_ratio=draw(SHARE), spare_parts_ratio=draw(SHARE),
            standby_practice=draw(st.sampled_from(PRACTICES)), poe_diversity_ratio=draw(SHARE),
            poe_efficiency_ratio=draw(SHARE),
        ),
        currency=draw(maybe(NAME)), habits=draw(HABITS), media=draw(MEDIA), junctions=tuple(junctions),
        prices=tuple(prices),
        profiles=tuple(profile for key, profile in PROFILES.items() if key in used),
        buildings=tuple(buildings), cores=tuple(cores), levels=tuple(levels), places=tuple(places),
        dwellings=tuple(dwellings), entrances=tuple(entrances), doors=tuple(doors), units=tuple(units),
        modules=tuple(modules), keys=tuple(keys), secrets=tuple(secrets), subnets=tuple(subnets),
        servers=tuple(servers), switches=tuple(switches), supplies=tuple(supplies), runs=tuple(runs),
        timetables=tuple(timetables), diverts=tuple(diverts), rights=tuple(rights), holidays=holidays,
        notes=(*draw(SITE_NOTES), *called),
    )  # fmt: skip


def _no_id() -> str:
    raise AssertionError("reading an export back must not make new parts")


@settings(max_examples=60, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(sites())
def test_a_site_comes_back_from_its_workbook_as_it_was(site: Site) -> None:
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "schedules.xlsx"
        path.write_bytes(workbook_bytes(site, title="Schedules & lists"))
        again = read_workbook(path, before=site, profiles=PROFILES, new_id=_no_id)
        assert again.mistakes == ()
        assert again.site == site
        first = read_workbook(path, before=None, profiles=PROFILES, new_id=_no_id)
        assert first.mistakes == ()
        assert first.site == site
