"""The tutorial works: its files are written, its commands run in order, and they print what the page shows.

A shown line is compared word by word; … stands for anything. A comment before a block says which exit code its last
command ends with, where that is not 0.
"""

import os
import re
import shlex
import subprocess
import sys
from dataclasses import dataclass
from pathlib import Path

TUTORIAL = Path(__file__).parents[2] / "docs" / "tutorial" / "first-building.md"
_BLOCK = re.compile(
    r"(?:<!-- exit code (?P<code>\d+) -->\n)?"
    r"```(?:console|\{code-block\} text\n:caption: (?P<file>\S+))\n(?P<body>.*?)^```$",
    re.MULTILINE | re.DOTALL,
)


@dataclass
class Command:
    line: str
    shown: list[str]
    code: int = 0


def steps() -> list[Command | tuple[str, str]]:
    """Return the files and commands of the page, in order."""
    found: list[Command | tuple[str, str]] = []
    for block in _BLOCK.finditer(TUTORIAL.read_text(encoding="utf-8")):
        if block["file"]:
            found.append((block["file"], block["body"]))
            continue
        command = None
        for line in block["body"].splitlines():
            if line.startswith("$ "):
                command = Command(line.removeprefix("$ "), [])
                found.append(command)
            elif line.strip():
                assert command is not None, f"output before any command: {line}"
                command.shown.append(line)
        if command is not None and block["code"]:
            command.code = int(block["code"])
    return found


def pattern_of(shown: str) -> str:
    words = (".*".join(re.escape(piece) for piece in word.split("…")) for word in shown.split())
    return r"\s+".join(words)


def test_the_page_shows_the_whole_way() -> None:
    commands = {step.line.split()[1] for step in steps() if isinstance(step, Command)}
    assert commands >= {
        "demo", "template", "new", "vault", "plan", "check", "explain", "import", "diff", "waive", "show", "pack",
        "history", "export",
    }  # fmt: skip


def test_every_command_works_and_prints_what_is_shown(tmp_path: Path) -> None:
    environment = {name: value for name, value in os.environ.items() if not name.startswith("DOORWRIGHT_")}
    environment["HOME"] = environment["XDG_CONFIG_HOME"] = str(tmp_path / "nobody")
    for step in steps():
        if isinstance(step, tuple):
            name, text = step
            path = tmp_path / name
            path.parent.mkdir(exist_ok=True)
            path.write_text(text, encoding="utf-8")
            continue
        program, *arguments = shlex.split(step.line)
        done = subprocess.run(
            [str(Path(sys.executable).with_name(program)), *arguments],
            cwd=tmp_path,
            env=environment,
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            encoding="utf-8",
            check=False,
        )
        assert done.returncode == step.code, f"{step.line}\n{done.stdout}\n{done.stderr}"
        for shown in step.shown:
            assert re.search(pattern_of(shown), done.stdout), f"{step.line} does not print: {shown}\n{done.stdout}"
