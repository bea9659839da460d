"""The example workbooks are what their scripts write, so that nobody edits one without the other."""

import runpy
import zipfile
from datetime import date
from pathlib import Path

from doorwright.kernel.verdict import Severity
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.profiles import load_profiles
from doorwright.store.workbook.reader import read_workbook
from tests.unit.plan.block import new_ids, planned

MEDIUM = Path(__file__).parents[2] / "examples" / "medium"


def test_the_medium_workbook_is_what_its_script_writes(tmp_path: Path) -> None:
    write = runpy.run_path(str(MEDIUM / "write.py"))["write"]
    for name in ("one.xlsx", "two.xlsx"):
        write(tmp_path / name)
    assert (tmp_path / "one.xlsx").read_bytes() == (tmp_path / "two.xlsx").read_bytes()
    # another machine's zlib may pack the same contents into other bytes
    assert _contents(tmp_path / "one.xlsx") == _contents(MEDIUM / "medium.xlsx")


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
    plan = planned(site)
    assert plan.troubles == ()
    assert {dwelling.door_label: dwelling.call_number for dwelling in plan.site.dwellings}["7"] == "07"


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
        ("unit-without-mac", Severity.WARNING),
        ("unit-without-serial", Severity.WARNING),
    ]
    missing = {str(missing): len(verdicts) for missing, verdicts in assessment.by_missing().items()}
    assert set(missing) == {
        "length of cable run", "firmware of unit", "height of unit", "escape route of door",
    }  # fmt: skip
