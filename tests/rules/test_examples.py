"""Every rule: its page, the case it finds, the case it lets pass; and the sound site, in which all hold."""

import re
from datetime import date

import pytest

from doorwright.kernel.observation import Stage, what_counts
from doorwright.kernel.signoff import standing
from doorwright.kernel.source import sources
from doorwright.kernel.verdict import Phase
from doorwright.model.part import Part
from doorwright.model.site import PARTS, Site
from doorwright.model.walk import Walk
from doorwright.rules.catalogue import AREAS, RULE_BY_ID, RULES, rules_of
from doorwright.rules.doors import CAUTION
from doorwright.rules.example import as_it_is
from doorwright.rules.judge import Assessment, judge
from doorwright.rules.rule import Example, Facts, Rule
from doorwright.rules.sound import sound_secrets, sound_sign_offs, sound_site

TODAY = date(2031, 5, 6)
UNTOUCHED = Example("The sound site as it is.", as_it_is)


def judged(site: Site, example: Example = UNTOUCHED) -> Assessment:
    """Judge a site in which was found and signed what an example says."""
    facts = Facts(
        Walk(site),
        sound_secrets(),
        TODAY,
        observations=what_counts(example.observed, Stage.FOUND),
        sign_offs=standing(sound_sign_offs() if example.signed is None else example.signed),
    )
    return judge(facts, RULES)


def made(example: Example) -> Assessment:
    return judged(example.edit(sound_site()), example)


def edited(example: Example) -> Site:
    return example.edit(sound_site())


@pytest.mark.parametrize("one", RULES, ids=lambda one: one.id)
def test_a_rule_finds_its_case(one: Rule) -> None:
    before, after = judged(sound_site()), made(one.finds)
    found = [finding for finding in after.findings if finding.rule == one.id]
    assert found
    assert all(finding.severity is one.severity for finding in found)
    assert before.findings == ()  # so the edit is what was found
    crashed = [finding.message for finding in after.findings if "this rule itself failed" in finding.message]
    assert crashed == []


@pytest.mark.parametrize("one", RULES, ids=lambda one: one.id)
def test_a_rule_lets_its_other_case_pass(one: Rule) -> None:
    after = made(one.passes)
    assert [finding.message for finding in after.findings if finding.rule == one.id] == []
    assert [verdict for verdict in after.not_checked if verdict.rule == one.id] == []
    assert after.held.get(one.id, 0) > 0  # it passes because it was judged, not because it was skipped


def test_every_rule_holds_in_the_sound_site_and_nothing_is_unchecked() -> None:
    whole = judged(sound_site())
    assert whole.findings == ()
    assert whole.not_checked == ()
    assert whole.judged_count == sum(whole.held.values()) > 300


def test_the_sound_site_has_every_kind_of_part_but_servers() -> None:
    assert {kind.KIND for kind in PARTS if not sound_site().table(kind)} == {"SIP server"}


@pytest.mark.parametrize("one", RULES, ids=lambda one: one.id)
def test_the_page_of_a_rule_is_complete(one: Rule) -> None:
    assert re.fullmatch(r"[a-z]+(-[a-z]+)+", one.id)
    assert one.title.endswith(".")
    assert "\n" not in one.title
    for text in (one.title, one.why, one.remedy, one.finds.text, one.passes.text):
        assert text[0].isupper() or text[0] in "abcdefghijklmnopqrstuvwxyz0123456789"
        assert text.endswith(".")
    assert one.phases
    assert set(one.phases) <= set(Phase)
    assert one.cites
    assert all(cite.source in sources() for cite in one.cites)
    assert one.over is Site or issubclass(one.over, Part)


def test_identifiers_are_unique_and_every_area_has_rules() -> None:
    assert len(RULE_BY_ID) == len(RULES)
    assert all(rules_of(area) for area in AREAS)
    assert all(area.__doc__ for area in AREAS)


ON_ESCAPE = (
    "locked-on-escape-route",
    "magnet-without-fire-release",
    "magnet-without-exit-button",
    "fire-door-unlatched",
    "magnet-said-to-be-fail-secure",
    "release-not-signed-off",
)


@pytest.mark.parametrize("ident", ON_ESCAPE)
def test_what_is_said_about_escape_defers_to_a_competent_person(ident: str) -> None:
    after = made(RULE_BY_ID[ident].finds)
    messages = [finding.message for finding in after.findings if finding.rule == ident]
    assert messages
    assert all(message.endswith(CAUTION) for message in messages)


@pytest.mark.parametrize("one", RULES, ids=lambda one: one.id)
def test_findings_name_parts_by_label_not_by_identifier(one: Rule) -> None:
    site = edited(one.finds)
    after = judged(site, one.finds)
    # identifiers that are no words of their own: with a dash and a digit
    idents = {part.id for kind in PARTS for part in site.table(kind) if re.search(r"-\d", part.id)}
    labels = {part.label for kind in PARTS for part in site.table(kind)}
    keys = {profile.key for profile in site.profiles}
    for finding in (finding for finding in after.findings if finding.rule == one.id):
        words = set(re.findall(r"[\w-]+", finding.message))
        assert not words & (idents - labels - keys), finding.message
