"""What the workbook tests share: the shipped profiles, identifiers in order, and a way to read a file."""

import itertools
from collections.abc import Callable
from functools import cache
from pathlib import Path

from pydantic import TypeAdapter

from doorwright import data
from doorwright.model.profile import Profile
from doorwright.model.site import Site
from doorwright.store.workbook import Reading, read_workbook


@cache
def profiles() -> dict[str, Profile]:
    adapter = TypeAdapter(Profile)
    return {key: adapter.validate_python({**row, "key": key}) for key, row in data.table("profiles").items()}


def counter() -> Callable[[], str]:
    numbers = itertools.count(1)
    return lambda: f"new{next(numbers)}"


def read(path: Path, before: Site | None = None, *, remove_missing: bool = False) -> Reading:
    return read_workbook(path, before=before, profiles=profiles(), new_id=counter(), remove_missing=remove_missing)


def told(reading: Reading) -> list[str]:
    return [str(mistake) for mistake in reading.mistakes]
