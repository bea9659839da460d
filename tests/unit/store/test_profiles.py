import math
import os
from pathlib import Path

import pytest

from doorwright import data
from doorwright.kernel.errors import Refused
from doorwright.model.profile import ALPHABETS, ProfileKind
from doorwright.store.profiles import load_profiles

GOOD = """
[sample-unit]
title = "Sample unit"
kind = "URU"
poe_draw_w = 4
"""


def write(folder: Path, name: str, text: str) -> Path:
    path = folder / name
    path.write_text(text, encoding="utf-8")
    return path


def refused(folder: Path) -> list[tuple[str, str]]:
    """Return where and what is wrong, the folder's name left out."""
    with pytest.raises(Refused) as caught:
        load_profiles([folder])
    return [(m.where.replace(f"{folder}{os.sep}", ""), m.problem) for m in caught.value.mistakes]


def test_the_shipped_profiles_are_whole() -> None:
    profiles = load_profiles()

    assert set(profiles) == set(data.table("profiles"))
    # As written in data/profiles.toml under vcu-direct.
    assert profiles["vcu-direct"].kind is ProfileKind.VCU
    assert profiles["vcu-direct"].module == "key-module-6"
    assert profiles["vcu-direct"].firmware[1].keeps_settings is False
    # as data/profiles.toml says: yes, no, and nothing
    assert [line.may_go_back for line in profiles["vcu-direct"].firmware] == [None, False, True, None]


def test_the_users_profiles_come_on_top_and_later_folders_replace(tmp_path: Path) -> None:
    first, second = tmp_path / "first", tmp_path / "second"
    first.mkdir()
    second.mkdir()
    write(first, "a.toml", GOOD + '\n[uru-video]\ntitle = "Ours"\nkind = "URU"\n')
    write(second, "a.toml", GOOD.replace("Sample unit", "Newer unit"))
    write(second, "notes.txt", "not a profile")

    profiles = load_profiles([first, second])

    assert profiles["sample-unit"].title == "Newer unit"
    assert profiles["sample-unit"].poe_draw_w == 4.0
    assert profiles["uru-video"].title == "Ours"
    assert profiles["uru-video"].poe_class is None  # replaced whole, not field by field
    assert profiles["vcu-direct"].title == "Direct-key visitor call unit, one built-in key"


def test_a_file_may_begin_with_a_byte_order_mark(tmp_path: Path) -> None:
    (tmp_path / "a.toml").write_bytes(b"\xef\xbb\xbf" + GOOD.encode())

    assert "sample-unit" in load_profiles([tmp_path])


def test_all_mistakes_of_all_files_are_told_at_once(tmp_path: Path) -> None:
    write(
        tmp_path,
        "a.toml",
        """
[first]
title = " "
kind = "doorbell"
colour = "red"
[second]
title = "Second"
kind = "VCU"
keys_count = "six"
keypad = 1
poe_draw_w = -3
[third]
kind = "VCU"
""",
    )
    write(tmp_path, "b.toml", "[fourth\n")
    (tmp_path / "c.toml").write_bytes(b'[fifth]\ntitle = "\xff"\n')
    write(tmp_path, "d.toml", "stray = 3\n" + GOOD)

    found = refused(tmp_path)

    assert [where for where, _ in found] == [
        "b.toml",
        "c.toml",
        "a.toml, [first] kind",
        "a.toml, [first] colour",
        "a.toml, [second] keys_count",
        "a.toml, [second] keypad",
        "a.toml, [third] title",
        "d.toml, [stray]",
    ]
    problems = dict(found)
    assert "line 1" in problems["b.toml"]
    assert problems["c.toml"] == "byte 18 is not UTF-8"
    assert problems["a.toml, [first] colour"] == "unknown field"


@pytest.mark.parametrize(
    ("line", "field", "problem"),
    [
        ("poe_draw_w = -0.5", "poe_draw_w", "it is below zero"),
        ("keys_count = -1", "keys_count", "it is below zero"),
        ("settle_s = -1.0", "settle_s", "it is below zero"),
        ("legend_width_mm = 0", "legend_width_mm", "it is not above zero"),
        ("poe_port_w = 0", "poe_port_w", "it is not above zero"),
        ("calls_max_count = 0", "calls_max_count", "it is not above zero"),
        ("audio_delay_ms = -1", "audio_delay_ms", "it is below zero"),
        ("peukert_exponent = 0.9", "peukert_exponent", "no battery has such an exponent"),
        ("output_v = 12.0\nbattery_end_v = 12.5", "battery_end_v", "it is above output_v, which is 12"),
        ("poe_class = 9", "poe_class", "there is no such class"),
        ("output_v = inf", "output_v", "Input should be a finite number"),
        ("output_v = nan", "output_v", "Input should be a finite number"),
        ("ports_count = 2\nuplinks_count = 3", "uplinks_count", "it has 2 ports, and the uplinks are among them"),
        ('serial_pattern = "[A-Z"', "serial_pattern", "it is no regular expression: unterminated character set"),
        ('module = "nowhere"', "module", "no profile has this name"),
        ('module = "uru-video"', "module", "that profile is of a URU"),
        ("modules_max_count = 2", "modules_max_count", "it takes modules, but the field module does not say which"),
        ('firmware_baseline = "9.9"', "firmware_baseline", "no line of firmware has this version"),
        ('key = "other"', "key", "unknown field: the name in brackets is the key"),
        (
            'device_secret = {length_min_count = 9, length_max_count = 8, alphabet = "digits"}',
            "device_secret.length_max_count",
            "it is less than length_min_count, which is 9",
        ),
        (
            'sip_secret = {length_min_count = 0, length_max_count = 8, alphabet = "digits"}',
            "sip_secret.length_min_count",
            "it is below 1",
        ),
        (
            'sip_secret = {length_min_count = 1, length_max_count = 8, alphabet = "runes"}',
            "sip_secret.alphabet",
            "unknown alphabet",
        ),
        (
            'sip_secret = {length_min_count = 1, length_max_count = 8, alphabet = "digits", salt = 1}',
            "sip_secret.salt",
            "unknown field",
        ),
        (
            'firmware = [{version = "1", keeps_settings = true, pairing_generation = 1},'
            ' {version = "1", keeps_settings = false, pairing_generation = 1}]',
            "firmware",
            "2 lines are of this version",
        ),
        (
            'firmware = [{version = "1", keeps_settings = true, pairing_generation = 1, may_go_back = "no"}]',
            "firmware.0.may_go_back",
            "Input should be a valid boolean",
        ),
        (
            'firmware = [{version = "1", keeps_settings = true, pairing_generation = 1, step_s = -60}]',
            "firmware.0.step_s",
            "it is below zero",
        ),
    ],
)
def test_a_wrong_value_is_told_by_file_and_field(tmp_path: Path, line: str, field: str, problem: str) -> None:
    write(tmp_path, "a.toml", f'[unit]\ntitle = "Unit"\nkind = "VCU"\n{line}\n')

    ((where, found),) = refused(tmp_path)

    assert where == f"a.toml, [unit] {field}"
    assert found.startswith(problem)


def test_one_folder_does_not_name_a_profile_twice(tmp_path: Path) -> None:
    write(tmp_path, "a.toml", GOOD)
    write(tmp_path, "b.toml", GOOD)

    ((where, problem),) = refused(tmp_path)

    assert where == "b.toml, [sample-unit]"
    assert problem.endswith("in the same folder has a profile of this name too")


def test_a_folder_that_is_not_there_is_told(tmp_path: Path) -> None:
    with pytest.raises(Refused) as caught:
        load_profiles([tmp_path / "none", tmp_path / "nowhere"])

    assert [mistake.problem for mistake in caught.value.mistakes] == ["there is no such folder"] * 2


def test_a_module_of_a_profile_with_mistakes_is_not_blamed_twice(tmp_path: Path) -> None:
    write(
        tmp_path,
        "a.toml",
        '[unit]\ntitle = "Unit"\nkind = "VCU"\nmodule = "mod"\n[mod]\ntitle = "Mod"\nkind = "key module"\ncolour = 1\n',
    )

    assert refused(tmp_path) == [("a.toml, [mod] colour", "unknown field")]


def test_the_alphabets_have_the_sizes_their_entropies_are_reckoned_with() -> None:
    # L log2 N: PIN of 6 digits 19.9316 bit, 12 of 62 71.4504 bit, 16 of 94 104.8734 bit (uniformly random secrets).
    assert 6 * math.log2(len(ALPHABETS["digits"])) == pytest.approx(19.9316, abs=5e-5)
    assert 12 * math.log2(len(ALPHABETS["letters and digits"])) == pytest.approx(71.4504, abs=5e-5)
    assert 16 * math.log2(len(ALPHABETS["letters, digits and signs"])) == pytest.approx(104.8734, abs=5e-5)
    assert len(ALPHABETS["hexadecimal"]) == 16
    for alphabet in ALPHABETS.values():
        assert len(set(alphabet)) == len(alphabet)
        assert all("!" <= character <= "~" for character in alphabet)  # the 94 printable characters of ASCII
