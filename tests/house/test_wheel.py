"""The built package: what is inside, and what it says of itself."""

import subprocess
import sys
import zipfile
from email.parser import Parser
from pathlib import Path

import pytest

import doorwright

ROOT = Path(__file__).parents[2]
SOURCE = ROOT / "src" / "doorwright"


@pytest.fixture(scope="module")
def wheel(tmp_path_factory: pytest.TempPathFactory) -> zipfile.ZipFile:
    out = tmp_path_factory.mktemp("wheel")
    command = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(out)]
    subprocess.run(command, cwd=ROOT, capture_output=True, check=True)
    (built,) = out.glob("*.whl")
    return zipfile.ZipFile(built)


def test_everything_below_the_package_is_inside_and_nothing_else(wheel: zipfile.ZipFile) -> None:
    wanted = {f"doorwright/{path.relative_to(SOURCE).as_posix()}" for path in SOURCE.rglob("*") if path.is_file()}
    wanted = {name for name in wanted if "__pycache__" not in name} | {"doorwright/data/examples/medium/medium.xlsx"}
    assert {name for name in wheel.namelist() if not name.startswith("doorwright-")} == wanted


def test_it_says_what_it_is_and_what_it_needs(wheel: zipfile.ZipFile) -> None:
    (name,) = [name for name in wheel.namelist() if name.endswith(".dist-info/METADATA")]
    told = Parser().parsestr(wheel.read(name).decode())
    assert (told["Name"], told["Version"]) == ("doorwright", doorwright.__version__)
    assert (told["License-Expression"], told["Requires-Python"]) == ("Apache-2.0", ">=3.11")
    always = [line for line in told.get_all("Requires-Dist", []) if "extra" not in line]
    needed = {line.split(">")[0].split("[")[0].lower() for line in always}
    assert {"click", "cryptography", "pydantic", "python-calamine", "sqlalchemy", "typst", "xlsxwriter"} <= needed
    assert not needed & {"pytest", "sphinx", "mypy"}


def test_the_command_is_there(wheel: zipfile.ZipFile) -> None:
    (name,) = [name for name in wheel.namelist() if name.endswith(".dist-info/entry_points.txt")]
    assert "doorwright = doorwright.cli.main:main" in wheel.read(name).decode()
