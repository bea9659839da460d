"""The command line, run in this process on copies of one planned book."""

import json
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest

from doorwright.cli.main import run

WORKBOOK = Path(__file__).parents[3] / "examples" / "medium" / "medium.xlsx"
PASSPHRASE = "copper kettle under seven stairs"  # noqa: S105  (invented for the tests)


@dataclass(frozen=True)
class Ran:
    """What one command gave."""

    code: int
    out: str
    err: str

    @property
    def json(self) -> Any:
        return json.loads(self.out)


Doorwright = Callable[..., Ran]


@pytest.fixture(autouse=True)
def still_world(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Keep the tests apart from the settings of whoever runs them."""
    monkeypatch.delenv("DOORWRIGHT_PASSPHRASE", raising=False)
    monkeypatch.delenv("DOORWRIGHT_PROFILES", raising=False)
    for name in ("HOME", "APPDATA", "XDG_CONFIG_HOME"):
        monkeypatch.setenv(name, str(tmp_path / "nobody"))


@pytest.fixture
def doorwright(capsys: pytest.CaptureFixture[str]) -> Doorwright:
    """Run one command and return its exit code and what it printed."""

    def call(*arguments: object) -> Ran:
        capsys.readouterr()
        code = run([str(argument) for argument in arguments])
        out, err = capsys.readouterr()
        return Ran(code, out, err)

    return call


@pytest.fixture(scope="session")
def planned(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """The example, taken in, with a vault, planned: revisions 1 and 2."""
    folder = tmp_path_factory.mktemp("planned")
    book, passphrase = folder / "tallow.book", folder / "passphrase.txt"
    passphrase.write_text(f"{PASSPHRASE}\n", encoding="utf-8")
    for arguments in (
        ["new", book, "--from", WORKBOOK, "--by", "Survey"],
        ["vault", book, "passphrase", "--passphrase-file", passphrase],
        ["plan", book, "--passphrase-file", passphrase, "--by", "Planner"],
    ):
        assert run([str(argument) for argument in arguments]) == 0
    return book


@pytest.fixture
def book(planned: Path, tmp_path: Path) -> Path:
    """A copy of the planned book, to do with as the test likes."""
    return Path(shutil.copyfile(planned, tmp_path / "tallow.book"))


@pytest.fixture
def passphrase_file(tmp_path: Path) -> Path:
    path = tmp_path / "passphrase.txt"
    path.write_text(f"{PASSPHRASE}\nthe second line does not count\n", encoding="utf-8")
    return path
