"""What answers on the network mean: limits, words, whom else it concerns; and a watch stays right."""

from dataclasses import replace
from datetime import UTC, date, datetime

import pytest

from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.verdict import Finding, Subject
from doorwright.model.aspect import Aspect, answered_text
from doorwright.model.change import diff
from doorwright.model.network import CableRun, SipServer, Switch
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules import asked
from doorwright.rules.catalogue import rules_of
from doorwright.rules.differences import differences
from doorwright.rules.example import plus, put, without
from doorwright.rules.judge import Watch, judge
from doorwright.rules.rule import Facts
from doorwright.rules.sound import sound_site

TODAY = date(2031, 5, 6)
URU = Subject(Unit.KIND, "uru-2")
SWITCH = Subject(Switch.KIND, "switch-2")
RULES = rules_of(asked)


def seen(aspect: str, value: str, subject: Subject = URU) -> Observation:
    return Observation(
        id=f"{subject.id}-{aspect}", stage=Stage.FOUND, subject=subject, aspect=aspect, value=value,
        seen_at=datetime(2031, 5, 5, 12, 0, tzinfo=UTC), seen_by="A. Fitter",
    )  # fmt: skip


def facts(site: Site, *observations: Observation) -> Facts:
    return Facts(Walk(site), None, TODAY, observations=what_counts(observations, Stage.FOUND))


def findings(*observations: Observation, site: Site | None = None) -> tuple[Finding, ...]:
    return judge(facts(site or sound_site(), *observations), RULES).findings


# the limit of a minute is common practice: timetables open and close by the minute


@pytest.mark.parametrize(
    ("value", "words"),
    [
        ("60", ""),
        ("-60", ""),
        ("none", ""),
        ("61", "had its clock 61 seconds ahead"),
        ("-7300", "had its clock 2 hours behind"),  # 7300 / 3600 = 2.03
        ("-1924992000", "had its clock 22280 days behind"),  # 1924992000 / 86400 = 22280: a clock that was never set
    ],
)
def test_a_clock_may_be_out_by_a_minute(value: str, words: str) -> None:
    told = findings(seen(Aspect.CLOCK, value))
    assert [words in one.message for one in told] == ([True] if words else [])


@pytest.mark.parametrize(
    ("days", "words"),
    [
        ("2030-01-01 to 2031-06-05", ""),  # 30 days after the 6th of May: the 5th of June
        ("2030-01-01 to 2031-06-04", "ends on 2031-06-04"),
        ("2030-01-01 to 2031-05-06", "ends on 2031-05-06"),  # good for today still
        ("2030-01-01 to 2031-05-05", "ended on 2031-05-05"),
        ("2031-05-07 to 2041-01-01", "not valid before 2031-05-07"),
        ("none", ""),
    ],
)
def test_a_certificate_lasts_a_month_from_today(days: str, words: str) -> None:
    told = findings(seen(Aspect.CERTIFICATE, days))
    assert [words in one.message for one in told] == ([True] if words else [])


# RFC 3261 §11.2 and §21: any final response shows that it works, but for those of a server in trouble


@pytest.mark.parametrize(
    ("value", "is_right"),
    [("200", True), ("401", True), ("404", True), ("486", True), ("501", True), ("603", True),
     ("500", False), ("503", False), ("none", False), ("unreadable", False)],
)  # fmt: skip
def test_any_answer_that_is_not_of_trouble_is_right(value: str, is_right: bool) -> None:
    assert (findings(seen(Aspect.SIP, value)) == ()) is is_right


def test_silence_leads_to_the_port_and_counts_only_at_the_planned_address() -> None:
    (finding,) = findings(seen(Aspect.ANSWERED, answered_text("192.0.2.22", there=False)))
    assert "URU 102" in finding.message
    assert "gave no answer at 192.0.2.22 on 2031-05-05" in finding.message
    assert "the lamp of S1 at the port of cable D7" in finding.message
    assert findings(seen(Aspect.ANSWERED, answered_text("192.0.2.99", there=False))) == ()


def test_who_shares_an_address_is_named_and_a_subject() -> None:
    (finding,) = findings(seen(Aspect.MACS, "00-00-5E-00-53-07 and 00-00-5E-00-53-08"))
    assert "00-00-5E-00-53-08 is that of URU 201" in finding.message
    assert finding.subjects == (URU, Subject(Unit.KIND, "uru-3"))


def test_a_server_is_judged_by_its_answers_and_by_nothing_else() -> None:
    server = Subject(SipServer.KIND, "server")
    site = plus(SipServer(id="server", name="House server", address="192.0.2.9"))(sound_site())
    there = [
        seen(Aspect.SIP, "503", server),
        seen(Aspect.NAME, "registrar", server),  # from a table that names an address of the plan
        seen(Aspect.FIRMWARE, "1.0", server),
    ]
    assert [one.rule for one in findings(*there, site=site)] == ["found-server-amiss"]
    (one,) = differences(Walk(site), what_counts(there, Stage.FOUND))
    assert (one.part.label, one.planned, one.found) == ("House server", "an answer", "503")


def test_a_switch_has_one_rule_for_all_its_answers() -> None:
    told = findings(seen(Aspect.CLOCK, "3600", SWITCH), seen(Aspect.CERTIFICATE, "2001-01-01 to 2002-01-01", SWITCH))
    assert [one.rule for one in told] == ["found-switch-amiss"] * 2


def test_the_day_it_was_seen_counts_where_nobody_says_which_day_it_is() -> None:
    observed = what_counts([seen(Aspect.CERTIFICATE, "2030-01-01 to 2031-05-06")], Stage.FOUND)
    (one,) = differences(Walk(sound_site()), observed)
    assert (one.planned, one.said) == ("good for 30 days", "showed a certificate that ends on 2031-05-06")


def test_a_watch_says_what_judging_from_scratch_says() -> None:
    observed = (
        seen(Aspect.ANSWERED, answered_text("192.0.2.22", there=False)),
        seen(Aspect.MACS, "00-00-5E-00-53-07 and 00-00-5E-00-53-08"),
        seen(Aspect.ANSWERED, answered_text("198.51.100.3", there=False), SWITCH),
    )
    before = sound_site()
    watch = Watch(facts(before, *observed), RULES)
    for edit in (
        put(Unit, "uru-2", address="192.0.2.99"),
        put(Unit, "uru-2", name="URU one hundred and two"),
        put(Unit, "uru-3", mac="00-00-5E-00-53-77"),
        put(Unit, "uru-3", name="Elsewhere"),
        without(Unit, "uru-3"),
        put(Switch, "switch-2", address="198.51.100.9"),
        without(CableRun, "run-uru-2"),
    ):
        edited = edit(before)
        watch.change(diff(before, edited))
        whole, now = judge(facts(edited, *observed), RULES), watch.assessment()
        assert not [one for one in whole.findings if "this rule itself failed" in one.message]
        assert set(now.findings) == set(whole.findings)
        assert now.held == whole.held
        watch.change(diff(edited, before))


def test_an_observation_of_another_day_counts_by_its_own() -> None:
    late = replace(seen(Aspect.SIP, "200"), id="late", seen_at=datetime(2031, 5, 6, tzinfo=UTC))
    assert findings(seen(Aspect.SIP, "none"), late) == ()
