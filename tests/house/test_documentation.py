"""The documentation says what the code does."""

import re
import subprocess
import sys
import tomllib
from dataclasses import fields
from pathlib import Path

import click
import pytest

from doorwright.kernel.source import Held
from doorwright.model.profile import FirmwareLine, Profile, SecretPolicy
from doorwright.model.profile_fields import MEANING_BY_FIELD

ROOT = Path(__file__).parents[2]
DOCS = ROOT / "docs"
PAGES = sorted([*DOCS.rglob("*.md"), ROOT / "README.md", ROOT / "CONTRIBUTING.md"])


def generate(*arguments: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, str(DOCS / "generate.py"), *arguments]
    return subprocess.run(command, capture_output=True, text=True, check=False, encoding="utf-8")


def test_generated_pages_are_current() -> None:
    done = generate("--check")
    assert done.returncode == 0, done.stderr


def test_a_stale_page_is_told_by_name(tmp_path: Path) -> None:
    assert generate("--into", str(tmp_path)).returncode == 0
    (tmp_path / "reference" / "rules.md").write_text("old", encoding="utf-8")
    (tmp_path / "explain" / "layers.svg").unlink()
    done = generate("--check", "--into", str(tmp_path))
    assert done.returncode == 1
    told = [line.strip() for line in done.stderr.splitlines() if line.startswith("  ")]
    assert told == [str(tmp_path / "explain" / "layers.svg"), str(tmp_path / "reference" / "rules.md")]
    assert "make reference" in done.stderr


def test_every_field_of_a_profile_is_explained() -> None:
    assert list(MEANING_BY_FIELD) == [field.name for field in fields(Profile)]
    text = " ".join(MEANING_BY_FIELD.values())
    for form in (SecretPolicy, FirmwareLine):
        assert [field.name for field in fields(form) if f"`{field.name}`" not in text] == []


def test_every_way_to_hold_a_source_is_explained() -> None:
    page = (DOCS / "explain" / "sources-and-limits.md").read_text(encoding="utf-8")
    explained = re.findall(r"^\| ([^|]+?) \|", page, re.MULTILINE)[1:]
    assert explained == [held.value.split(",")[0] for held in Held]


def test_the_example_of_a_profile_is_read(tmp_path: Path) -> None:
    from doorwright.store.profiles import load_profiles

    page = (DOCS / "howto" / "write-a-profile.md").read_text(encoding="utf-8")
    example = page.split("```toml\n", 1)[1].split("```", 1)[0]
    (tmp_path / "example.toml").write_text(example, encoding="utf-8")
    (key,) = tomllib.loads(example)
    assert load_profiles([tmp_path])[key].keys_count == 1


@pytest.mark.parametrize("page", PAGES, ids=lambda page: str(page.relative_to(ROOT)))
def test_links_to_files_lead_somewhere(page: Path) -> None:
    links = re.findall(r"\]\(([^)#]+?)(?:#[^)]*)?\)", page.read_text(encoding="utf-8"))
    files = [link for link in links if not link.startswith(("http:", "https:", "mailto:"))]
    assert [link for link in files if not (page.parent / link).exists()] == []


def test_every_page_of_how_to_is_listed() -> None:
    listed = (DOCS / "howto" / "index.md").read_text(encoding="utf-8").split("```{toctree}", 1)[1]
    pages = {page.stem for page in (DOCS / "howto").glob("*.md")} - {"index"}
    assert pages == set(re.findall(r"^[\w-]+$", listed, re.MULTILINE))


def test_every_command_in_the_documentation_exists() -> None:
    from doorwright.cli.main import cli

    known = set(cli.list_commands(click.Context(cli)))
    for page in PAGES:
        text = page.read_text(encoding="utf-8")
        for named in re.findall(r"(?:^\$ |`)(?:\S+/)?doorwright ([a-z]+(?:-[a-z]+)*)", text, re.MULTILINE):
            assert named in known, f"{page.name}: doorwright {named}"
