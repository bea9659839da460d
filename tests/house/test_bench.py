"""The benchmarks measure a sound site, and do their sums right. Nothing is timed here."""

from datetime import date
from pathlib import Path

import pytest

from bench import edit, growth, steps, whole
from bench.__main__ import STEPS
from bench.claim import Figure
from bench.fresh import Cost
from bench.sites import write_workbook
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULES
from doorwright.rules.judge import judge
from doorwright.rules.rule import Facts
from doorwright.store.profiles import load_profiles
from doorwright.store.workbook.reader import read_workbook
from tests.unit.plan.block import new_ids, planned


# 160 dwellings a core, four cores a building
@pytest.mark.parametrize(("dwellings", "cores", "buildings"), [(1, 1, 1), (100, 1, 1), (700, 5, 2)])
def test_the_invented_site_is_sound_and_of_the_size_asked_for(
    tmp_path: Path, dwellings: int, cores: int, buildings: int
) -> None:
    write_workbook(tmp_path / "site.xlsx", dwellings)
    reading = read_workbook(tmp_path / "site.xlsx", before=None, profiles=load_profiles(), new_id=new_ids())
    assert reading.mistakes == ()
    site = reading.site
    assert (len(site.dwellings), len(site.cores), len(site.buildings)) == (dwellings, cores, buildings)
    plan = planned(site)
    assert plan.troubles == ()
    assessment = judge(Facts(Walk(plan.site), plan.secrets, date(2026, 3, 2)), RULES)
    assert (assessment.findings, assessment.not_checked) == ((), ())
    assert assessment.judged_count > 30 * dwellings


def test_every_step_runs(tmp_path: Path) -> None:
    steps.lay_out(tmp_path, 20)
    for name in STEPS:
        calls = getattr(steps, name)(tmp_path)
        assert calls
        for call in calls:
            call()


def test_figures_are_worked_out_by_hand() -> None:
    def costs_of(**busy_s: tuple[float, float]) -> dict[tuple[str, int], Cost]:
        return {
            (step, size): Cost(time_s=0.0, busy_s=value, peak_mib=None)
            for step, values in busy_s.items()
            for size, value in zip((1_000, 10_000), values, strict=True)
        }

    costs = costs_of(
        import_=(1, 10), plan=(1, 10), check=(1, 100), save=(1, 10), round_trip=(0.5, 5),
        change_call_number=(0.01, 5), change_address=(0.06, 6), change_hub=(1, 100),
    )  # fmt: skip
    sizes = (1_000, 10_000)
    ratios = {figure.what: figure for figure in whole.figures(costs, sizes)}
    assert ratios["plan + check, 10000 dwellings"] == Figure(whole.NAME, "plan + check, 10000 dwellings", 22.0, 20.0)
    assert ratios["plan + check, 10000 dwellings"].met is False
    assert ratios["import, 1000 dwellings"].measured == 2.0
    exponents = {figure.what: figure for figure in growth.figures(costs, sizes)}
    # ten times the size: ten times the time is the power 1, a hundred times the power 2
    assert exponents["plan, 1000 to 10000"].measured == pytest.approx(1.0)
    assert exponents["check, 1000 to 10000"].measured == pytest.approx(2.0)
    assert (exponents["plan, 1000 to 10000"].met, exponents["check, 1000 to 10000"].met) == (True, False)
    edits = {figure.what: (figure.measured, figure.met) for figure in edit.figures(costs, sizes)}
    assert edits["change call number, 1000 dwellings"] == (1.0, True)
    assert edits["change address, 1000 dwellings"] == (6.0, False)
    assert edits["change hub, 10000 dwellings"] == (100.0, None)
