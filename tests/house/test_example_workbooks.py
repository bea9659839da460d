"""The example workbooks are what their scripts write, so that nobody edits one without the other."""

import runpy
import zipfile
from datetime import date
from pathlib import Path

import pytest

from doorwright.kernel.verdict import Severity
from doorwright.model.calling import RingMode
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.profiles import load_profiles
from doorwright.store.workbook.reader import read_workbook
from tests.unit.plan.block import new_ids, planned

EXAMPLES = Path(__file__).parents[2] / "examples"
MEDIUM, TALL = EXAMPLES / "medium", EXAMPLES / "tall"


@pytest.mark.parametrize("example", [MEDIUM, TALL], ids=lambda example: str(example.name))
def test_a_workbook_is_what_its_script_writes(example: Path, tmp_path: Path) -> None:
    write = runpy.run_path(str(example / "write.py"))["write"]
    for name in ("one.xlsx", "two.xlsx"):
        write(tmp_path / name)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    # another machine's zlib may pack the same contents into other bytes
    assert _contents(tmp_path / "one.xlsx") == _contents(example / f"{example.name}.xlsx")


def _contents(path: Path) -> dict[str, bytes]:
    with zipfile.ZipFile(path) as workbook:
        return {name: workbook.read(name) for name in workbook.namelist()}


def test_the_medium_workbook_reads_as_its_page_says() -> None:
    reading = read_workbook(MEDIUM / "medium.xlsx", before=None, profiles=load_profiles(), new_id=new_ids())
    assert reading.mistakes == ()
    site = reading.site
    stairs = {core.name: sum(dwelling.core == core.id for dwelling in site.dwellings) for core in site.cores}
    assert stairs == {"Stair A": 24, "Stair B": 20, "Stair C": 20}
    assert [dwelling.door_label for dwelling in site.dwellings] == [str(number) for number in range(1, 65)]
    assert (len(site.levels), len(site.entrances), len(site.switches), len(site.supplies)) == (9, 5, 6, 4)
    kinds = [unit.kind.value for unit in site.units]
    assert (kinds.count("VCU"), kinds.count("URU"), kinds.count("SMU")) == (5, 64 + 8, 1)
    macs = [mac for mac in [unit.mac for unit in site.units] + [one.mac for one in site.switches] if mac]
    assert len(macs) == len(set(macs)) == 83
    assert all(mac.startswith("00-00-5E-00-53-") for mac in macs)  # RFC 7042: for documentation
    assert sum(run.length_m is None for run in site.runs) == 3
    assert (len(site.junctions), len(site.prices)) == (2, 22)
    amounts = {price.item: str(price.amount) for price in site.prices}
    assert (amounts["key-module-6"], amounts["cat6"], amounts["2x0.75"]) == ("58.90", "148.00", "0.55")
    plan = planned(site)
    assert plan.troubles == ()
    assert {dwelling.door_label: dwelling.call_number for dwelling in plan.site.dwellings}["7"] == "07"


def test_the_medium_workbook_says_how_calls_go() -> None:
    site = read_workbook(MEDIUM / "medium.xlsx", before=None, profiles=load_profiles(), new_id=new_ids()).site
    label = {part.id: part.label for parts in (site.dwellings, site.entrances, site.units) for part in parts}
    went = [
        (one.cause.value, label.get(one.dwelling or one.entrance or ""), label[one.to_dwelling or one.to_desk or ""])
        for one in site.diverts
    ]
    assert went == [
        ("no answer", "Entrance B", "Concierge desk"), ("always", "60", "Concierge desk"), ("always", "33", "34"),
    ]  # fmt: skip
    assert [one.door_label for one in site.dwellings if one.ring_mode is RingMode.IN_TURN] == ["5"]
    assert sorted(map(str, site.holidays)) == ["2026-05-25", "2026-08-31", "2026-12-25", "2026-12-26", "2027-01-01"]
    (right,) = site.rights
    assert ([core.name for core in site.cores if core.id in right.cores], right.dwellings) == (["Stair C"], ())
    assert [label[desk] for desk in right.desks] == ["Concierge desk"]


def test_the_tall_workbook_reads_as_its_page_says_and_is_planned_without_troubles() -> None:
    reading = read_workbook(TALL / "tall.xlsx", before=None, profiles=load_profiles(), new_id=new_ids())
    assert reading.mistakes == ()
    site = reading.site
    assert (len(site.dwellings), len(site.levels), len(site.cores), len(site.entrances)) == (500, 25 + 2, 2, 5)
    assert (len(site.switches), len(site.doors), len(site.supplies), len(site.servers)) == (2 + 2 * 13, 8, 4, 1)
    kinds = [unit.kind.value for unit in site.units]
    assert (kinds.count("VCU"), kinds.count("URU"), kinds.count("SMU")) == (5, 500 + 16, 2)
    assert (len(site.timetables), len(site.diverts), len(site.rights), len(site.holidays)) == (4, 4, 3, 5)
    assert max(run.length_m or 0 for run in site.runs) == 75.0
    plan = planned(site)
    assert plan.troubles == ()
    number = {dwelling.door_label: dwelling.call_number for dwelling in plan.site.dwellings}
    assert (number["101"], number["2520"]) == ("0101", "2520")
    assert all(unit.registrar for unit in plan.site.units)
    assessment = judge(Facts(Walk(plan.site), plan.secrets, date(2026, 3, 2)), RULES)
    above_note = [finding for finding in assessment.findings if finding.severity is not Severity.NOTE]
    assert sorted((finding.rule, finding.severity) for finding in above_note) == [
        *[("call-unit-often-taken", Severity.WARNING)] * 5,
        *[("who-answers-cannot-free", Severity.WARNING)] * 2,
    ]
    assert not assessment.by_missing()


def test_the_checks_find_in_the_medium_workbook_what_its_page_says() -> None:
    reading = read_workbook(MEDIUM / "medium.xlsx", before=None, profiles=load_profiles(), new_id=new_ids())
    plan = planned(reading.site)
    assessment = judge(Facts(Walk(plan.site), plan.secrets, date(2026, 3, 2)), RULES)
    found = sorted((finding.rule, finding.severity) for finding in assessment.findings)
    assert found == [
        ("control-out-of-reach", Severity.WARNING),
        ("fire-door-unlatched", Severity.ERROR),
        ("firmware-below-baseline", Severity.WARNING),
        ("legend-too-long", Severity.WARNING),
        ("lock-voltage-too-low", Severity.ERROR),
        ("serial-misread", Severity.WARNING),
        ("starved-at-end-of-standby", Severity.ERROR),
        ("unit-without-mac", Severity.WARNING),
        ("unit-without-serial", Severity.WARNING),
        ("who-answers-cannot-free", Severity.WARNING),
    ]
    missing = {str(missing): len(verdicts) for missing, verdicts in assessment.by_missing().items()}
    assert set(missing) == {
        "length of cable run", "firmware of unit", "height of unit", "escape route of door",
    }  # fmt: skip
