"""A corrected data sheet in the place of the one that the plan was made with."""

from dataclasses import replace
from typing import Any

import pytest

from doorwright.kernel.errors import Refused
from doorwright.model.change import SITE_KIND, Set, apply
from doorwright.model.door import Door
from doorwright.model.profile import FirmwareLine, Profile, ProfileKind
from doorwright.model.site import Site
from doorwright.model.unit import KeyModule
from doorwright.model.walk import Walk
from doorwright.plan.edits.profiling import differences, renew_profile
from doorwright.plan.edits.replacing import replace_unit
from doorwright.store.profiles import load_profiles
from tests.unit.plan.block import block, planned, plus, put

PROFILES = load_profiles()
SITE = planned(block({"A": {0: [str(n) for n in range(1, 9)]}}, vcu="vcu-direct")).site


def sheet(key: str, **values: Any) -> dict[str, Profile]:
    return {**PROFILES, key: replace(PROFILES[key], **values)}


def test_what_differs_is_told_and_nothing_issued_moves() -> None:
    edit = renew_profile(Walk(SITE), "uru-video", sheet("uru-video", poe_draw_w=9.5, audio=()))
    (change,) = edit.changes
    assert isinstance(change, Set)
    assert (change.kind, change.field) == (SITE_KIND, "profiles")
    was = PROFILES["uru-video"]
    assert edit.told == (
        f"poe_draw_w: {was.poe_draw_w:g} -> 9.5",
        f"audio: {', '.join(was.audio)} -> nothing",
        "8 parts of the site are of this type",
    )
    after = apply(SITE, edit.changes)
    assert Walk(after).profile("uru-video") == replace(was, poe_draw_w=9.5, audio=())
    assert planned(after, prefix="later ").site == after
    assert edit.troubles == ()


def test_what_the_sheet_no_longer_allows_is_given_up_and_told() -> None:
    # one built-in key and modules of six: eight homes need two modules; with one at most, seven keys are left
    edit = renew_profile(Walk(SITE), "vcu-direct", sheet("vcu-direct", modules_max_count=1, registrations_max_count=5))
    after = Walk(apply(SITE, edit.changes))
    assert [module.ordinal for module in after.modules_of("vcu A")] == [1]
    assert len(after.keys_of("vcu A")) == 7
    assert any(text.startswith("1 key of vcu A is given up") for text in edit.told)
    assert [trouble.problem for trouble in edit.troubles] == [
        f"8 units register with vcu A; {PROFILES['vcu-direct'].title} takes 5"
    ]


def test_a_wrong_serial_number_is_told_only_where_the_form_is_corrected() -> None:
    site = put(SITE, "uru A/1", serial="12-345")
    assert renew_profile(Walk(site), "uru-video", sheet("uru-video", settle_s=1.0)).troubles == ()
    (trouble,) = renew_profile(Walk(site), "uru-video", sheet("uru-video", serial_pattern="[0-9]{5}")).troubles
    assert "12-345" in trouble.problem


def test_lock_modules_stay_with_whatever_unit() -> None:
    # a lock module goes with any unit, and its output counts after the unit's own
    outputs_count = PROFILES["vcu-keypad"].outputs_count
    site = plus(
        SITE,
        KeyModule(id="lock", unit="vcu A", profile="lock-module", ordinal=9),
        Door(id="side", name="Side door", entrance="at A", freed_by="vcu A", output=outputs_count + 1),
    )
    edit = replace_unit(Walk(site), "vcu A", serial="A00000001", profile="vcu-keypad", profiles=PROFILES)
    assert [module.id for module in Walk(apply(site, edit.changes)).modules_of("vcu A")] == ["lock"]
    assert not any("Side door" in trouble.problem for trouble in edit.troubles)


@pytest.mark.parametrize(
    ("key", "profiles", "says"),
    [
        ("uru-vidio", PROFILES, "has no type 'uru-vidio'"),
        ("uru-video", {}, "there is no data sheet 'uru-video'"),
        ("uru-video", PROFILES, "is the same as the data sheet"),
        ("uru-video", sheet("uru-video", kind=ProfileKind.SMU), "8 parts of the site are of this type"),
    ],
)
def test_refusals(key: str, profiles: dict[str, Profile], says: str) -> None:
    with pytest.raises(Refused) as refused:
        renew_profile(Walk(SITE), key, profiles)
    assert says in refused.value.message
    assert refused.value.remedy


def test_firmware_lines_are_told_one_by_one() -> None:
    first = FirmwareLine(version="1.0", keeps_settings=True, pairing_generation=1)
    second = FirmwareLine(version="2.0", keeps_settings=False, pairing_generation=2, step_s=300.0)
    old, new = (
        replace(PROFILES["uru-video"], firmware=lines) for lines in ((first,), (replace(first, step_s=60.0), second))
    )
    assert list(differences(old, new)) == [
        "firmware 1.0: keeps settings, pairing generation 1, 600 s -> keeps settings, pairing generation 1, 60 s",
        "firmware 2.0: came in (clears settings, pairing generation 2, 300 s)",
    ]


def test_a_site_keeps_each_type_once() -> None:
    after: Site = apply(SITE, renew_profile(Walk(SITE), "uru-video", sheet("uru-video", settle_s=1.0)).changes)
    assert [one.key for one in after.profiles] == [one.key for one in SITE.profiles]
