"""What was found beside the plan: which observation counts, what to correct at which end; and a watch stays right."""

from dataclasses import fields, replace
from datetime import UTC, date, datetime, timedelta

import pytest

from doorwright.kernel.observation import Observation, Stage, what_counts
from doorwright.kernel.signoff import Statement, standing
from doorwright.kernel.verdict import Missing, Subject
from doorwright.kernel.waiver import Waiver
from doorwright.model.aspect import DOWN, SITE_SUBJECT, Aspect, port_text, stranger
from doorwright.model.change import diff
from doorwright.model.network import CableRun, SipServer, Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Dwelling
from doorwright.model.site import Site
from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rules import found, signoffs
from doorwright.rules.catalogue import RULE_BY_ID, rules_of
from doorwright.rules.differences import differences
from doorwright.rules.example import both, plus, put, put_profile, without
from doorwright.rules.judge import Assessment, Watch, judge
from doorwright.rules.rule import Facts
from doorwright.rules.sound import sound_sign_offs, sound_site

TODAY = date(2031, 5, 6)
NOON = datetime(2031, 5, 5, 12, 0, tzinfo=UTC)
URU = Subject(Unit.KIND, "uru-2")
RULES = (*rules_of(found), *rules_of(signoffs))


def seen(aspect: str, value: str, *, subject: Subject = URU, ident: str = "", at: datetime = NOON) -> Observation:
    name = ident or f"{subject.id}-{aspect}"
    return Observation(
        id=name, stage=Stage.FOUND, subject=subject, aspect=aspect, value=value, seen_at=at, seen_by="A. Fitter"
    )


def facts(site: Site, *observations: Observation) -> Facts:
    return Facts(
        Walk(site),
        None,
        TODAY,
        observations=what_counts(observations, Stage.FOUND),
        sign_offs=standing(sound_sign_offs()),
    )


def judged(site: Site, *observations: Observation) -> Assessment:
    return judge(facts(site, *observations), RULES)


def to_do(site: Site, aspect: Aspect, value: str) -> str:
    (one,) = differences(Walk(site), what_counts([seen(aspect, value)], Stage.FOUND))
    return one.to_do


# which observation counts


def test_the_latest_observation_counts_whatever_the_order_of_recording() -> None:
    late = seen(Aspect.ADDRESS, "192.0.2.22", ident="late")
    early = seen(Aspect.ADDRESS, "192.0.2.99", ident="early", at=NOON - timedelta(days=1))

    assert judged(sound_site(), late, early).findings == ()
    assert judged(sound_site(), early, replace(late, seen_at=NOON - timedelta(days=2))).findings != ()


def test_of_two_seen_at_one_moment_the_one_recorded_later_counts() -> None:
    first, second = seen(Aspect.POSITION, "1", ident="a"), seen(Aspect.POSITION, "0", ident="b")
    assert what_counts([first, second], Stage.FOUND)[URU][Aspect.POSITION] == second


def test_what_another_observation_corrects_does_not_count_even_if_it_was_seen_later() -> None:
    wrong = seen(Aspect.MAC, "00-00-5E-00-53-99", ident="wrong")
    right = replace(
        seen(Aspect.MAC, "00-00-5E-00-53-07", ident="right", at=NOON - timedelta(hours=1)), corrects="wrong"
    )
    assert judged(sound_site(), wrong, right).findings == ()


def test_what_was_rehearsed_is_not_what_was_found() -> None:
    rehearsed = replace(seen(Aspect.ADDRESS, "192.0.2.99"), stage=Stage.REHEARSED)
    assert judged(sound_site(), rehearsed).findings == ()


def test_without_observations_the_rules_say_nothing_at_all() -> None:
    nothing = judge(facts(sound_site()), rules_of(found))
    assert (nothing.findings, nothing.not_checked, nothing.judged_count) == ((), (), 0)


# what to do, and at which end: the table of facts that must agree at both ends of a pairing (common practice)


@pytest.mark.parametrize(
    ("aspect", "value", "at_unit", "at_other_end"),
    [
        (Aspect.ADDRESS, "192.0.2.99", "at URU 102 enter IP address 192.0.2.22", "at its registrar VCU main the entry"),
        (Aspect.MASK, "255.255.0.0", "at URU 102 enter mask 255.255.255.0", "at its registrar VCU main the entry"),
        (Aspect.GATEWAY, "192.0.2.9", "at URU 102 enter gateway 192.0.2.1", "at its registrar VCU main the entry"),
        (Aspect.REGISTRAR, "192.0.2.99", "at URU 102 enter registrar's address 192.0.2.16", "nothing changes there"),
        (Aspect.CALL_NUMBER, "999", "at URU 102 enter call number 102", "at its registrar VCU main the entry"),
        (Aspect.POSITION, "3", "at URU 102 enter position 0", "restarts"),
        (Aspect.SERIAL, "A00000099", "look at the label of URU 102", "at its registrar VCU main"),
        (Aspect.VLAN, "1", "S1, at the port of cable D7, set VLAN 20", "tags its own frames"),
        (Aspect.PORT, "S1 port 12", "move its cable to S1 port 7", "enter S1 port 12 in the plan"),
        (Aspect.FIRMWARE, "2.6", "take the record of URU 102, then load 3.2", "enter it in the plan"),
        (Aspect.REGISTERED, "no", "wait some minutes", "at VCU main its entry: serial number"),
        (Aspect.LINK, DOWN, "see that URU 102 has power", "cable D7"),
        (Aspect.LINK, "10", "test cable D7", "pair by pair"),
        (Aspect.NAME, "URU 103", "at URU 102 enter name URU 102", "call it URU 103 in the plan"),
        (Aspect.POE, "0", "see that S1, at the port of cable D7, gives URU 102 power", "something else feeds it"),
        (Aspect.POE, "20", "see which type URU 102 is", "look at the switch's budget"),
    ],
)
def test_a_difference_says_what_to_correct_at_which_end(
    aspect: Aspect, value: str, at_unit: str, at_other_end: str
) -> None:
    said = to_do(sound_site(), aspect, value)
    assert at_unit in said
    assert at_other_end in said


def test_exchanged_units_are_told_as_such_and_both_are_subjects() -> None:
    (finding,) = judged(sound_site(), seen(Aspect.MAC, "00-00-5E-00-53-08")).findings
    assert "is that of URU 201" in finding.message
    assert finding.subjects == (URU, Subject(Unit.KIND, "uru-3"))


def test_a_unit_at_a_server_has_no_entry_by_serial_number_there() -> None:
    site = both(
        plus(SipServer(id="server", name="Server", address="192.0.2.9")), put(Unit, "uru-2", registrar="server")
    )(sound_site())
    assert "registrar" not in to_do(site, Aspect.ADDRESS, "192.0.2.99")
    assert "that of Server" in to_do(site, Aspect.REGISTRAR, "192.0.2.16")


def test_what_the_plan_lacks_waits_and_is_no_finding() -> None:
    said = judged(put(Unit, "uru-2", mac=None)(sound_site()), seen(Aspect.MAC, "00-00-5E-00-53-07"))
    assert said.findings == ()
    assert [verdict.missing for verdict in said.not_checked] == [(Missing("unit", "MAC address"),)]


def test_a_slow_link_waits_for_the_cable_and_a_full_one_does_not() -> None:
    site = put(CableRun, "run-uru-2", cable=None)(sound_site())
    assert [one.missing for one in judged(site, seen(Aspect.LINK, "100")).not_checked] == [
        (Missing("cable run", "cable"),)
    ]
    assert judged(site, seen(Aspect.LINK, "2500")).held["found-link-slow"] == 1


def test_a_primary_vcu_that_registers_nowhere_is_not_judged_for_it() -> None:
    main = Subject(Unit.KIND, "vcu-main")
    said = judged(
        sound_site(), seen(Aspect.REGISTERED, "no", subject=main), seen(Aspect.REGISTRAR, "192.0.2.1", subject=main)
    )
    assert (said.findings, said.not_checked) == ((), ())


@pytest.mark.parametrize(("value", "is_right"), [("3.2.0", True), ("V3.2", True), ("3.20", False), ("3.2-rc1", False)])
def test_versions_are_compared_by_their_steps(value: str, is_right: bool) -> None:
    assert (judged(sound_site(), seen(Aspect.FIRMWARE, value)).findings == ()) is is_right


# power. IEEE 802.3: a port of class 2 gives 7 W, of class 3 15.4 W


@pytest.mark.parametrize(("value", "is_right"), [("0", False), ("0.1", True), ("7", True), ("7.1", False)])
def test_where_no_draw_is_known_a_unit_may_take_what_a_port_of_its_class_gives(value: str, *, is_right: bool) -> None:
    site = put_profile("uru-video", poe_class=2, poe_draw_w=None)(sound_site())
    assert (judged(site, seen(Aspect.POE, value)).findings == ()) is is_right


def test_with_its_draw_known_a_unit_may_take_that_and_the_loss_of_its_cable() -> None:
    # over no more than 100 m of copper the loss of 6 W is below 1 W (6 W at 44 V are 0.14 A; some 20 ohm: 0.4 W)
    site = put_profile("uru-video", poe_class=3, poe_draw_w=6.0)(sound_site())
    assert judged(site, seen(Aspect.POE, "6")).findings == ()
    (finding,) = judged(site, seen(Aspect.POE, "7")).findings
    assert finding.rule == "found-power-differs"


def test_what_takes_no_power_from_its_port_by_its_profile_is_not_judged_for_it() -> None:
    site = put_profile("uru-video", poe_class=None, poe_draw_w=None)(sound_site())
    assert judged(site, seen(Aspect.POE, "3")).judged_count == judged(site).judged_count


def test_power_waits_for_the_class_of_the_profile() -> None:
    site = put_profile("uru-video", poe_class=None, poe_draw_w=6.0)(sound_site())
    assert [one.missing for one in judged(site, seen(Aspect.POE, "3")).not_checked] == [
        (Missing("profile", "PoE class"),)
    ]


# sign-offs and waivers


def test_a_release_whose_sign_off_has_ended_comes_back_with_the_name() -> None:
    ended = tuple(replace(one, until=date(2031, 5, 5)) for one in sound_sign_offs())
    (finding,) = judge(replace(facts(sound_site()), sign_offs=standing(ended)), RULES).findings
    assert finding.rule == "release-not-signed-off"
    assert finding.message.count("signed off by A. Warden (responsible for fire safety), ended on 2031-05-05") == 2


def test_a_later_sign_off_replaces_the_earlier() -> None:
    escape, fire = sound_sign_offs()
    again = replace(escape, id="again", until=date(2031, 5, 5))
    assert standing((escape, fire, again))[escape.subject] == {
        Statement.ESCAPE_RELEASE: again,
        Statement.FIRE_RELEASE: fire,
    }


def test_where_nobody_keeps_sign_offs_the_rules_on_them_say_nothing() -> None:
    assert judge(replace(facts(sound_site()), sign_offs=None), rules_of(signoffs)).judged_count == 0


def test_a_finding_whose_waiver_has_ended_comes_back_and_says_so() -> None:
    waiver = Waiver(
        id="w", rule="found-link-slow", subjects=(URU,), reason="old cable", by="A. Owner",
        on=date(2031, 1, 1), until=date(2031, 5, 5),
    )  # fmt: skip
    slow = facts(sound_site(), seen(Aspect.LINK, "10"))
    rules = [RULE_BY_ID["found-link-slow"]]

    after = judge(slow, rules, [waiver])
    assert [pair[1] for pair in after.came_back] == [waiver]
    assert after.findings == (after.came_back[0][0],)
    assert after.findings[0].message.endswith("; the waiver by A. Owner ended on 2031-05-05: old cable")

    renewed = judge(slow, rules, [waiver, replace(waiver, id="w2", on=TODAY, until=TODAY)])
    assert (renewed.findings, renewed.came_back, len(renewed.waived)) == ((), (), 1)
    assert judge(slow, rules, [replace(waiver, on=date(2031, 5, 7), until=date(2032, 1, 1))]).came_back == ()


# a watch

OBSERVED = (
    *(
        seen(aspect, value)
        for aspect, value in (
            (Aspect.SERIAL, "A00000008"), (Aspect.MAC, "00-00-5E-00-53-08"), (Aspect.ADDRESS, "192.0.2.23"),
            (Aspect.MASK, "255.255.0.0"), (Aspect.GATEWAY, "192.0.2.1"), (Aspect.VLAN, "20"),
            (Aspect.REGISTRAR, "192.0.2.16"), (Aspect.CALL_NUMBER, "201"), (Aspect.POSITION, "1"),
            (Aspect.FIRMWARE, "3.1"), (Aspect.PORT, port_text("S1", 9)), (Aspect.LINK, "10"),
            (Aspect.REGISTERED, "no"), (Aspect.NAME, "URU 201"), (Aspect.POE, "30"),
        )
    ),
    seen(Aspect.ADDRESS, "198.51.100.9", subject=Subject(Switch.KIND, "switch-1")),
    seen(stranger(Aspect.MAC, "00-00-5E-00-53-99"), "port", subject=SITE_SUBJECT),
    seen(stranger(Aspect.NAME, "Nobody"), "port", subject=SITE_SUBJECT),
    seen(stranger(Aspect.PORT, port_text("S1", 12)), "port", subject=SITE_SUBJECT),
)  # fmt: skip

VALUES = {
    "serial": ("A00000008", None), "mac": ("00-00-5E-00-53-08", "00-00-5E-00-53-99", None),
    "address": ("192.0.2.23", "192.0.2.99", "198.51.100.9", None), "cidr": ("192.0.0.0/16", "nonsense"),
    "gateway": ("192.0.2.2", None), "vlan": (21, None), "subnet": (None, "net-switches"),
    "registrar": (None, "vcu-rear", "uru-1"), "call_number": ("201", None), "position": (1, None),
    "firmware": ("3.1", None), "near_port": (9, 12, None), "near": ("switch-2",), "cable": ("2x1.0", None),
    "far": ("uru-3",), "name": ("Nobody", "S1", "S9"), "dwelling": ("flat-3", None), "profile": ("smu-desk",),
    "door_label": ("9",),
}  # fmt: skip


@pytest.mark.parametrize("kind", [Unit, Switch, Subnet, Dwelling, CableRun], ids=lambda kind: kind.KIND)
def test_a_watch_says_of_what_was_found_what_judging_from_scratch_says(kind: type[Part]) -> None:
    before = sound_site()
    watch = Watch(facts(before, *OBSERVED), RULES)

    def same_after(edited: Site) -> None:
        watch.change(diff(before, edited))
        whole, now = judged(edited, *OBSERVED), watch.assessment()
        assert not [one for one in whole.findings if "this rule itself failed" in one.message]
        assert (set(now.findings), set(now.not_checked)) == (set(whole.findings), set(whole.not_checked))
        assert now.held == whole.held
        watch.change(diff(edited, before))

    for part in before.table(kind):
        same_after(without(kind, part.id)(before))
        for field in fields(kind):
            for value in VALUES.get(field.name, ()):
                same_after(put(kind, part.id, **{field.name: value})(before))
