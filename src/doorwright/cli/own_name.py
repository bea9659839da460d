"""How this program is called from where the user stands: what they must type before `serve` and the rest."""

import os
import shlex
import shutil
import subprocess
import sys
from pathlib import Path
from typing import Final

NAME: Final = "doorwright"


def typed(*words: str | Path) -> str:
    """Return a command of ours as it must be typed here: with the path to the program where the shell has none."""
    parts = [*_program(), *map(str, words)]
    return subprocess.list2cmdline(parts) if os.name == "nt" else shlex.join(parts)


def _program() -> list[str]:
    called = Path(sys.argv[0])
    if called.name == "__main__.py" and called.parent.name == NAME:
        return [_shortest(Path(sys.executable)), "-m", NAME]
    if called.stem != NAME:
        return [NAME]  # somebody else's program runs us
    found = shutil.which(NAME)
    if found is not None and Path(found).resolve() == _whole(called).resolve():
        return [NAME]
    return [_shortest(called)]


def _whole(path: Path) -> Path:
    return path if path.suffix or os.name != "nt" else path.with_suffix(".exe")


def _shortest(path: Path) -> str:
    """Return a path from the working folder where it lies below it. A link (a venv's Python is one) is not followed."""
    whole = Path.cwd() / path
    return str(whole.relative_to(Path.cwd())) if whole.is_relative_to(Path.cwd()) else str(whole)
