"""The engine: crashes, what is missing, waivers, and how little is judged again after an edit."""

from dataclasses import replace
from datetime import date, timedelta
from typing import Any

import pytest

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Missing, Phase, Severity, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.aspect import SITE_SUBJECT
from doorwright.model.change import Add, Remove, Set
from doorwright.model.door import Door
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import RULE_BY_ID, RULES
from doorwright.rules.example import as_it_is, put
from doorwright.rules.judge import Assessment, Watch, judge
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Rule, Said, lacks, rule
from doorwright.rules.sound import sound_secrets, sound_site
from tests.rules.tower import estate, secrets_of

TODAY = date(2031, 5, 6)
NOWHERE = Example("Nothing is changed.", as_it_is)


def facts(site: Site, *, open_vault: bool = True) -> Facts:
    return Facts(Walk(site), sound_secrets() if open_vault else None, TODAY)


def made(body: object) -> Rule:
    """Return a rule over dwellings that says what ``body`` yields."""

    def short_lived(facts: Facts, dwelling: Dwelling) -> Said:
        """A dwelling is looked at.

        Why it matters: it is a test.
        What to do: nothing.
        """
        yield from body(facts, dwelling)  # type: ignore[operator]

    return rule(
        over=Dwelling,
        severity=Severity.NOTE,
        phases=(Phase.PLANNING,),
        cites=(Cite("practice"),),
        finds=NOWHERE,
        passes=NOWHERE,
    )(short_lived)


def test_a_crashing_rule_becomes_a_finding_and_the_others_are_judged() -> None:
    def crash(facts: Facts, dwelling: Dwelling) -> Said:
        yield HOLDS
        if dwelling.id == "flat-2":
            raise ZeroDivisionError("oh")

    whole = judge(facts(sound_site()), [made(crash), RULE_BY_ID["dwelling-without-call-number"]])
    (found,) = whole.findings
    assert found.severity is Severity.ERROR  # though the rule is for notes
    assert found.subjects == (Subject("dwelling", "flat-2"),)
    assert "this rule itself failed" in found.message
    assert "ZeroDivisionError: oh" in found.message
    assert whole.held == {"dwelling-without-call-number": 4, "short-lived": 4}


def test_what_is_missing_is_grouped_the_most_wanted_first() -> None:
    def wait(facts: Facts, dwelling: Dwelling) -> Said:
        yield lacks(dwelling, "colour")
        if dwelling.id == "flat-1":
            yield lacks(dwelling, "bell", "colour")

    whole = judge(facts(sound_site()), [made(wait)])
    groups = whole.by_missing()
    assert list(groups) == [Missing("dwelling", "colour"), Missing("dwelling", "bell")]
    assert [len(verdicts) for verdicts in groups.values()] == [5, 1]
    assert whole.judged_count == 0


def test_a_shut_vault_leaves_only_the_rules_on_secrets_unchecked() -> None:
    whole = judge(facts(sound_site(), open_vault=False), RULES)
    assert whole.findings == ()
    assert set(whole.by_missing()) == {Missing("vault", "passphrase")}
    assert {verdict.rule for verdict in whole.not_checked} == {
        "secret-guessable",
        "secret-not-accepted",
        "secret-not-in-vault",
        "secret-used-twice",
    }


def test_an_unanswered_question_about_escape_is_asked() -> None:
    site = put(Door, "door-rear", escape_route=None)(sound_site())
    whole = judge(facts(site), RULES)
    assert whole.findings == ()
    assert Missing("door", "escape route") in whole.by_missing()


def waiver(*, on: date, until: date, ident: str = "door-rear", rule_id: str = "release-too-short") -> Waiver:
    return Waiver(
        id="w",
        rule=rule_id,
        subjects=(Subject("door", ident),),
        reason="measured with the residents",
        by="A. Nyone",
        on=on,
        until=until,
    )


def short_release(*waivers: Waiver) -> Assessment:
    site = put(Door, "door-rear", release_s=2.0)(sound_site())
    return judge(facts(site), RULES, waivers)


def test_a_waiver_covers_its_rule_and_subjects_while_it_lasts() -> None:
    day = timedelta(days=1)
    lasting = waiver(on=TODAY, until=TODAY)
    covered = short_release(lasting)
    assert covered.findings == ()
    assert [one for _, one in covered.waived] == [lasting]
    for other in (
        waiver(on=TODAY - 9 * day, until=TODAY - day),  # it ended yesterday
        waiver(on=TODAY + day, until=TODAY + 9 * day),  # it begins tomorrow
        waiver(on=TODAY, until=TODAY, ident="door-main"),
        waiver(on=TODAY, until=TODAY, rule_id="contact-overloaded"),
    ):
        uncovered = short_release(other)
        assert [finding.rule for finding in uncovered.findings] == ["release-too-short"]
        assert uncovered.waived == ()
    assert covered.judged_count == uncovered.judged_count


def test_findings_are_counted_the_worst_first() -> None:
    site = replace(put(Unit, "uru-2", address=None)(put(Door, "door-rear", release_s=2.0)(sound_site())), grade=None)
    whole = judge(facts(site), RULES)
    assert whole.by_severity() == {Severity.ERROR: 1, Severity.WARNING: 1, Severity.NOTE: 1}
    assert list(whole.by_severity()) == [Severity.ERROR, Severity.WARNING, Severity.NOTE]
    assert [finding.severity for finding in whole.findings] == [Severity.ERROR, Severity.WARNING, Severity.NOTE]


def test_progress_is_told() -> None:
    told: list[tuple[int, int]] = []
    judge(facts(sound_site()), RULES, progress=lambda done, of: told.append((done, of)))
    assert told[0][0] == 0
    assert told[0][1] > 50


ESTATE = estate(cores=4, levels=5, homes=10)


def watched() -> Watch:
    return Watch(Facts(Walk(ESTATE), secrets_of(ESTATE), TODAY), RULES)


def setting(table: type[Dwelling | Unit], ident: str, field: str, new: object) -> tuple[Set, ...]:
    part = Walk(ESTATE).get(table, ident)
    return (Set(part.KIND, ident, field, getattr(part, field), new),)


def test_an_edit_of_one_unit_is_judged_again_where_it_matters_and_nowhere_else() -> None:
    again = watched().change(setting(Unit, "uru-home-1017", "serial", "A77777777"))
    # itself, its dwelling, entrance, core's VCU as registrar, subnet, cable, switch, two secrets, site: no neighbour
    assert Subject("unit", "uru-home-1017") in again
    # what a link between switches carries follows from the units on both sides: those links are judged again as well
    switches = {switch.id for switch in ESTATE.switches}
    between = {Subject("cable run", run.id) for run in ESTATE.runs if {run.near, run.far} <= switches}
    assert len(again - between) <= 12
    assert not [subject for subject in again if subject.kind == "unit" and subject.id.startswith("uru-home-1016")]


def test_a_watch_forgets_parts_that_are_gone_and_judges_those_that_are_new() -> None:
    watch = watched()
    lost = next(unit for unit in ESTATE.units if unit.id == "uru-home-1020")
    index = ESTATE.units.index(lost)
    watch.change((Remove(lost, index),))
    assert watch.of(Subject("unit", lost.id)) == ()
    assert [finding.rule for finding in watch.of(Subject("dwelling", "home-1020"))] == ["dwelling-without-uru"]
    watch.change((Add(replace(lost, address="not an address"), index),))
    assert "address-not-to-be-issued" in {finding.rule for finding in watch.of(Subject("unit", lost.id))}
    assert watch.of(Subject("dwelling", "home-1020")) == ()


def test_a_field_of_the_site_is_judged_again() -> None:
    watch = watched()
    assert SITE_SUBJECT in watch.change((Set("site", "", "record_keeper", None, "The office"),))
    assert "no-record-keeper" not in {finding.rule for finding in watch.assessment().findings}


def test_a_rule_needs_a_page_and_a_source() -> None:
    def pageless(facts: Facts, dwelling: Dwelling) -> Said:
        """A title alone."""
        yield Found(dwelling.label)

    keywords: dict[str, Any] = {"over": Dwelling, "severity": Severity.NOTE, "phases": ()}
    keywords |= {"finds": NOWHERE, "passes": NOWHERE}
    with pytest.raises(TypeError, match="cites a source"):
        rule(cites=(), **keywords)(pageless)
    with pytest.raises(TypeError, match="needs a title"):
        rule(cites=(Cite("practice"),), **keywords)(pageless)
