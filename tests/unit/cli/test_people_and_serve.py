"""The people file by command; what `serve` refuses, and what it serves over TLS."""

import socket
import ssl
import subprocess
import sys
import urllib.request
from collections.abc import Iterator
from contextlib import closing, contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from doorwright.store.certificate import LASTS, ensure_certificate, fingerprint_of
from tests.unit.cli.conftest import Doorwright

PASSWORD = "seven cats upon a landing"  # noqa: S105  (invented for the tests)


@pytest.fixture
def password_file(tmp_path: Path) -> Path:
    file = tmp_path / "password.txt"
    file.write_text(f"{PASSWORD}\n", encoding="utf-8")
    return file


@pytest.fixture
def people(doorwright: Doorwright, tmp_path: Path, password_file: Path) -> Path:
    file = tmp_path / "people.json"
    assert doorwright("people", file, "add", "Ada", "--role", "admin", "--password-file", password_file).code == 0
    return file


def test_people_are_added_listed_changed_and_removed(doorwright: Doorwright, people: Path, password_file: Path) -> None:
    assert doorwright("people", people, "add", "Bo", "--role", "work", "--password-file", password_file).code == 0
    assert doorwright("people", people, "role", "Bo", "plan").code == 0
    assert doorwright("people", people, "list", "--json").json == [
        {"name": "Ada", "role": "admin"},
        {"name": "Bo", "role": "plan"},
    ]
    assert doorwright("people", people, "remove", "Bo").code == 0
    assert "Bo" not in doorwright("people", people, "list").out
    assert PASSWORD not in people.read_text(encoding="utf-8")


def test_the_file_is_its_owners_alone(people: Path) -> None:
    if sys.platform != "win32":
        assert people.stat().st_mode & 0o077 == 0


def test_the_first_is_an_admin_and_one_always_stays(
    doorwright: Doorwright, people: Path, password_file: Path, tmp_path: Path
) -> None:
    first = doorwright("people", tmp_path / "new.json", "add", "Bo", "--role", "look", "--password-file", password_file)
    assert first.code == 2
    assert "must be an admin" in first.err
    assert not (tmp_path / "new.json").exists()
    assert doorwright("people", people, "remove", "Ada").code == 2
    assert doorwright("people", people, "role", "Ada", "plan").code == 2
    again = doorwright("people", people, "add", "Ada", "--role", "plan", "--password-file", password_file)
    assert again.code == 2
    assert doorwright("people", people, "role", "Zo", "plan").code == 2


@pytest.mark.parametrize(
    ("options", "told"),
    [
        (("--host", "192.0.2.10"), "others would come in without a password"),
        (("--people", "people.json"), "nobody comes in over the network here"),
        (("--host", "::", "--people", "people.json"), "every address at once"),
        (("--host", "192.0.2.10", "--people", "people.json", "--key", "key.pem"), "one is no use without the other"),
        (("--name", "tower.example"), "names are for --host"),
    ],
)
def test_what_serve_refuses(doorwright: Doorwright, book: Path, options: tuple[str, ...], told: str) -> None:
    refused = doorwright("serve", book, *options)
    assert refused.code == 2
    assert told in refused.err


def test_serve_refuses_what_is_not_there_and_a_port_that_is_taken(
    doorwright: Doorwright, book: Path, tmp_path: Path
) -> None:
    missing = doorwright("serve", tmp_path / "nowhere", "--port", "0", "--no-browser")
    assert missing.code == 2
    assert "is not there" in missing.err
    with closing(socket.create_server(("127.0.0.1", 0))) as taken:
        refused = doorwright("serve", book, "--port", taken.getsockname()[1], "--no-browser")
    assert refused.code == 2
    assert "cannot be had" in refused.err


@contextmanager
def served(*arguments: object) -> Iterator[str]:
    """Run `serve` as a program of its own, and give its address."""
    command = [sys.executable, "-m", "doorwright", "serve", *map(str, arguments), "--port", "0", "--no-browser"]
    with subprocess.Popen(command, stdout=subprocess.PIPE, text=True, encoding="utf-8") as running:
        assert running.stdout is not None
        line = next(line for line in running.stdout if line.startswith("Open "))
        yield line.split()[1]
        running.terminate()


def test_others_are_served_over_tls_and_asked_to_sign_in(book: Path, people: Path) -> None:
    with served(book, "--host", "127.0.0.1", "--people", people) as address:
        assert address.startswith("https://127.0.0.1:")
        trusting = ssl.create_default_context(cafile=str(people.with_suffix(".certificate.pem")))
        with urllib.request.urlopen(address, context=trusting) as page:  # noqa: S310  (our own)
            assert page.url.endswith("/sign-in?next=%2F")
            assert b"Password" in page.read()


def test_this_machine_alone_is_served_without_signing_in(book: Path) -> None:
    with served(book) as address, urllib.request.urlopen(f"{address}start.json") as page:  # noqa: S310  (our own)
        assert b"Tallow Yard" in page.read()


def test_a_certificate_is_made_once_and_anew_before_it_ends_or_for_other_names(tmp_path: Path) -> None:
    certificate, key = tmp_path / "a.pem", tmp_path / "a.key"
    now = datetime(2026, 11, 25, tzinfo=UTC)
    first = ensure_certificate(certificate, key, ("192.0.2.10", "tower.example"), now=now)
    assert first == fingerprint_of(certificate)
    assert ensure_certificate(certificate, key, ("tower.example", "192.0.2.10"), now=now) == first
    renamed = ensure_certificate(certificate, key, ("192.0.2.11",), now=now)
    assert renamed != first
    late = now + LASTS - timedelta(hours=1)
    assert ensure_certificate(certificate, key, ("192.0.2.11",), now=late) != renamed
    assert key.stat().st_mode & 0o077 == 0 or sys.platform == "win32"
