"""Doorwright works without a network: importing all of it opens no socket and asks for no name."""

import subprocess
import sys

WATCH = """
import importlib, pkgutil, sys

ASKED = []

def watch(event, arguments):
    if event.startswith("socket.") and event not in ("socket.gethostname",):
        ASKED.append((event, arguments))
    if event.startswith(("urllib.", "http.client", "ftplib", "smtplib", "poplib", "imaplib")):
        ASKED.append((event, arguments))

sys.addaudithook(watch)
import doorwright

count = 0
for found in pkgutil.walk_packages(doorwright.__path__, "doorwright."):
    if not found.name.endswith("__main__"):
        importlib.import_module(found.name)
        count += 1
assert count > 50, count
assert not ASKED, ASKED
if "--open-one" in sys.argv:
    import socket
    socket.socket().close()
    assert ASKED, "the watch is blind"
"""


def run(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-c", WATCH, *arguments], capture_output=True, text=True, check=False)


def test_importing_everything_opens_no_socket() -> None:
    done = run()
    assert done.returncode == 0, done.stderr


def test_the_watch_sees_a_socket() -> None:
    done = run("--open-one")
    assert done.returncode == 0, done.stderr
