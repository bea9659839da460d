"""The pages' own modules say what types they work with, and TypeScript's compiler agrees."""

import os
import shutil
import subprocess
from pathlib import Path

import pytest

STATIC = Path(__file__).parents[2] / "src" / "doorwright" / "web" / "static"
OPTIONS = ("--allowJs", "--checkJs", "--noEmit", "--strict", "--target", "es2022", "--module", "es2022")
LIBRARIES = ("--lib", "es2022,dom,dom.iterable,webworker.importscripts")


def modules() -> list[Path]:
    return [path for path in sorted(STATIC.rglob("*.js")) if "vendor" not in path.parts]


def test_every_module_of_ours_asks_to_be_checked() -> None:
    assert [path.name for path in modules() if not path.read_text(encoding="utf-8").startswith("// @ts-check")] == []


def test_the_types_hold() -> None:
    compiler = shutil.which("tsc")
    if compiler is None:
        if "CI" in os.environ:
            pytest.fail("tsc is not installed, so no module was checked")
        pytest.skip("needs tsc (Debian's package node-typescript)")
    done = subprocess.run(
        [compiler, *OPTIONS, *LIBRARIES, *map(str, modules())], capture_output=True, text=True, check=False
    )
    assert done.stdout == ""
