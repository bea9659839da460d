"""The files of the house: hooks fetch nothing, the changelog knows the version, the script for CI is sound."""

import os
import re
import subprocess
from pathlib import Path

import doorwright

ROOT = Path(__file__).parents[2]


def test_hooks_are_local_and_their_tools_are_ours() -> None:
    text = (ROOT / ".pre-commit-config.yaml").read_text(encoding="utf-8")
    assert re.findall(r"repo: (\S+)", text) == ["local"]
    entries = re.findall(r"entry: (\S+)", text)
    assert entries
    assert all(entry.startswith(".venv/bin/") for entry in entries)
    assert re.findall(r"language: (\S+)", text) == ["system"] * len(entries)


def test_the_changelog_knows_this_version() -> None:
    assert f"## [{doorwright.__version__}]" in (ROOT / "CHANGELOG.md").read_text(encoding="utf-8")


def test_the_script_for_continuous_testing_is_sound() -> None:
    script = ROOT / ".ci" / "run"
    text = script.read_text(encoding="utf-8")
    assert text.startswith("#!/usr/bin/env bash\n")
    assert "set -euo pipefail" in text
    assert text.rstrip().endswith("make test")
    if os.name == "posix":
        assert os.access(script, os.X_OK)
        subprocess.run(["bash", "-n", str(script)], check=True)
