"""Following long work in tests: the end of a job's news is the end of the job, and a page is asked again until made."""

from typing import Any

from starlette.testclient import TestClient

ASKED_MOST = 200
"""So often a page is asked again; the server waits up to a second before it answers each time."""


def made(client: TestClient, address: str) -> Any:
    """Return the value of a page, when nothing of it is still being made."""
    for _ in range(ASKED_MOST):
        value = client.get(address).json()
        if not value.get("step") and value.get("ready", True) and not value.get("looking"):
            return value
    raise AssertionError(f"{address} was never made")


def done(client: TestClient, address: str, **fields: Any) -> Any:
    """Begin a job with a form and return its JSON when it has ended."""
    begun = client.post(address, data=fields, follow_redirects=False)
    assert begun.status_code == 303, begun.text
    job = begun.headers["location"]
    for _ in range(100_000):
        value = client.get(f"{job}.json").json()
        if value["state"] not in {"waiting", "running"}:
            return value
    raise AssertionError(f"{job} never ended")
