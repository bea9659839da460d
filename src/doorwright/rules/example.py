"""Edits of the sound site from which the rules' examples are made."""

from collections.abc import Callable
from dataclasses import replace
from typing import Any

from doorwright.model.part import Part
from doorwright.model.site import Site

Edit = Callable[[Site], Site]


def as_it_is(site: Site) -> Site:
    """Leave the sound site alone."""
    return site


def put(kind: type[Part], ident: str, **values: Any) -> Edit:
    """Give fields of one part new values."""

    def edit(site: Site) -> Site:
        table = site.table(kind)
        if all(part.id != ident for part in table):
            raise LookupError(f"the sound site has no {kind.KIND} {ident!r}")
        return site.with_tables({kind: tuple(replace(part, **values) if part.id == ident else part for part in table)})

    return edit


def put_site(**values: Any) -> Edit:
    """Give fields of the site itself new values."""
    return lambda site: replace(site, **values)


def put_profile(key: str, **values: Any) -> Edit:
    """Give fields of one profile new values."""

    def edit(site: Site) -> Site:
        if all(profile.key != key for profile in site.profiles):
            raise LookupError(f"the sound site has no profile {key!r}")
        return replace(site, profiles=tuple(replace(p, **values) if p.key == key else p for p in site.profiles))

    return edit


def plus(*parts: Part) -> Edit:
    """Add parts."""

    def edit(site: Site) -> Site:
        for part in parts:
            site = site.with_tables({type(part): (*site.table(type(part)), part)})
        return site

    return edit


def without(kind: type[Part], *idents: str) -> Edit:
    """Take parts away."""
    return lambda site: site.with_tables({kind: tuple(part for part in site.table(kind) if part.id not in idents)})


def both(*edits: Edit) -> Edit:
    """Make several edits, one after the other."""

    def edit(site: Site) -> Site:
        for one in edits:
            site = one(site)
        return site

    return edit
