"""What the papers say in few words without leaving anything out: judged on their data, before it is set."""

from dataclasses import replace
from datetime import date
from functools import cache

from doorwright.kernel.verdict import Finding, Severity
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.unit import Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.plan.schedule import Pace, Times, make_schedule, work_of
from doorwright.render.pdf.papers.findings import findings
from doorwright.render.pdf.papers.forms import forms
from doorwright.render.pdf.papers.homes import dwellings_in_words
from doorwright.render.pdf.papers.schedules import schedules
from doorwright.render.pdf.papers.workdays import workdays
from doorwright.rules.judge import Assessment
from tests.documents.sample_site import sample


@cache
def tower() -> Walk:
    """64 dwellings: two cores of eight levels, four homes a level."""
    return Walk(sample(64).site)


def homes(core: str) -> list[Dwelling]:
    return [one for one in tower().site.dwellings if one.core == tower().site.cores["AB".index(core)].id]


def test_a_whole_core_is_told_as_such_and_what_is_out_is_named() -> None:
    a, b = homes("A"), homes("B")
    names = [core.name for core in tower().site.cores]
    whole = dwellings_in_words(tower(), [one.id for one in a])
    assert whole == f"all of {names[0]}"
    but_one = dwellings_in_words(tower(), [one.id for one in (*a[1:], *b)])
    assert but_one == f"all of {names[0]} but {a[0].door_label}; all of {names[1]}"
    few = dwellings_in_words(tower(), [a[4].id, a[5].id, a[6].id, b[9].id])
    assert few == f"{names[0]}: {a[4].door_label} to {a[6].door_label}; {names[1]}: {b[9].door_label}"
    assert dwellings_in_words(tower(), []) == ""


def test_from_where_a_dwelling_is_called_is_told_by_the_fewer() -> None:
    site = tower().site
    core = site.cores[0].id
    gates = tuple(Entrance(id=f"g{i}", name=f"Gate {i}", serves_buildings=("b",)) for i in range(3))
    side = Entrance(id="side", name="Side", serves_cores=(core,))
    paper = schedules(Walk(replace(site, entrances=(*gates, side))))
    assert paper is not None
    by_label = {row["label"]: row["entrances"] for row in paper["dwellings"]}
    assert by_label[homes("A")[0].door_label] == "all entrances"
    assert by_label[homes("B")[0].door_label] == "all entrances but Side"


def test_a_call_is_tested_once_from_each_entrance_with_the_key_or_the_number_to_dial() -> None:
    paper = forms(tower())
    assert paper is not None
    for form in paper["calls"]:
        vcu = next(unit for unit in tower().site.units if unit.name == form["vcu"])
        entrance = tower().get(Entrance, vcu.entrance or "")
        rows = [row for group in form["groups"] for row in group["rows"]]
        served = [one.door_label for one in tower().dwellings_served(entrance)]
        labels = [row["label"] for row in rows]
        assert [labels.count(label) for label in served] == [1] * len(served)
        assert form["has_keys"] == bool(tower().keys_of(vcu.id))
        assert form["has_keys"] or all(row["number"] for row in rows)


def test_findings_that_say_the_same_of_many_parts_stand_together_and_name_each() -> None:
    urus = [unit for unit in tower().site.units if unit.kind is UnitKind.URU][:7]

    def finding(unit: Unit, words: str) -> Finding:
        return Finding("odd", Severity.ERROR, (unit.subject,), f"{named(tower(), unit)} {words}")

    found = (*(finding(unit, "is odd") for unit in urus), finding(urus[0], "is odder"))
    paper = findings(tower(), Assessment(found, (), (), {}), (), date.min)
    (rule,) = next(group for group in paper["by_severity"] if group["severity"] == "error")["rules"]
    (together,) = rule["together"]
    assert (together["count"], together["message"]) == (7, "is odd")
    assert set(together["parts"]) == {unit.name for unit in urus}
    assert [one["message"] for one in rule["items"]] == [f"{named(tower(), urus[0])} is odder"]


def test_the_list_of_work_tells_every_job_of_the_chart() -> None:
    work = work_of(tower(), times=Times(), pace=Pace())
    schedule = make_schedule(work, technicians=3, effort_s=0.0)
    paper = workdays(schedule)
    assert paper is not None
    rows = [row for day in paper["days"] for row in day["rows"]]
    told = sorted((int(row["number"]), row["where"], row["action"]) for row in rows)
    assert told == [(job.number + 1, job.where, job.action) for job in work.jobs]
    facts = {one["name"]: one["value"] for one in paper["facts"]}
    assert facts["Technicians"] == "3"
    assert workdays(None) is None
