"""What a view may answer: a page, a way to another, a file, or a job that was begun."""

from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, TypeAlias

from doorwright.web.jobs import Job


@dataclass(frozen=True, slots=True, kw_only=True)
class Page:
    """A page: its template, its title, and the one value that template and JSON twin are both made from.

    ``part`` names a block of the template that stands for the page where htmx asks for a piece of it. ``facts`` are for
    the template alone: things that are on the way to the value, not part of it. ``about`` names the book that the page
    is of where its address names none.
    """

    template: str
    title: str
    view: Any
    status: int = 200
    part: str | None = None
    facts: Mapping[str, Any] = field(default_factory=dict)
    about: str = ""


@dataclass(frozen=True, slots=True)
class Go:
    """Another page to look at, after something was done. ``said`` is told there once, as what was done."""

    to: str
    said: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class Download:
    """A file made in memory, or lying in a folder of the server's own."""

    name: str
    media_type: str
    content: bytes | Path
    inline: bool = False


@dataclass(frozen=True, slots=True)
class Begun:
    """A job was begun; its page shows how far it is, and then what it gave."""

    job: Job


@dataclass(frozen=True, slots=True)
class Said:
    """A value for a program of the page itself: JSON alone."""

    value: Any
    status: int = 200


Answer: TypeAlias = Page | Go | Download | Begun | Said
