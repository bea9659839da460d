"""Drafts to parts: what was read put into the parts that were there, and the unit types that they name."""

from collections.abc import Mapping
from dataclasses import replace
from typing import Any

from doorwright.model.network import Switch
from doorwright.model.part import Part
from doorwright.model.power import Supply
from doorwright.model.profile import Profile
from doorwright.model.site import Site
from doorwright.model.unit import KeyModule, Unit
from doorwright.store.workbook.draft import Draft


def built(drafts: Mapping[str, Draft], old: tuple[Any, ...]) -> tuple[Any, ...]:
    """Return the parts of a kind: old ones in their order, then new ones; the old tuple itself where all is equal."""
    first = [drafts[part.id] for part in old if part.id in drafts]
    known = {part.id for part in old}
    parts = tuple(_part(draft) for draft in (*first, *(drafts[ident] for ident in drafts if ident not in known)))
    return old if parts == old else parts


def _part(draft: Draft) -> Part:
    if draft.old is None:
        return draft.kind(id=draft.ident, notes=draft.notes or (), **draft.given)
    changed = {name: value for name, value in draft.given.items() if getattr(draft.old, name) != value}
    if draft.notes is not None and draft.notes != draft.old.notes:
        changed["notes"] = draft.notes
    return replace(draft.old, **changed) if changed else draft.old


def with_profiles(site: Site, before: Site | None, known: Mapping[str, Profile]) -> Site:
    """Return the site with the unit types of ``before`` and those in use besides."""
    used = {part.profile for kind in (Unit, KeyModule, Switch, Supply) for part in site.table(kind)}
    used |= {module for key in used if key in known and (module := known[key].module)}
    kept = before.profiles if before else ()
    have = {profile.key for profile in kept}
    added = tuple(profile for key, profile in known.items() if key in used and key not in have)
    return replace(site, profiles=(*kept, *added)) if added else site
