"""The generic unit types that ship with Doorwright."""

from collections.abc import Iterator
from dataclasses import fields
from typing import Any, Final

from doorwright.kernel.units import unit_of
from doorwright.model.profile import FirmwareLine, Profile, ProfileKind, SecretPolicy
from doorwright.model.profile_fields import MEANING_BY_FIELD
from doorwright.store.profiles import load_profiles
from generators import markdown
from generators.markdown import Raw, code, plain, table

_INTRO: Final = """
These unit types are generic and invented: enough to plan with before the data sheets of the units bought are at hand.
Facts about a maker's units belong in your own profile files: see [write a profile](../howto/write-a-profile.md), which
says where. Fields that a type does not have are left out below.
"""


def page() -> str:
    """Return the page."""
    shipped = load_profiles()
    blocks: list[str] = []
    for kind in ProfileKind:
        of_kind = [profile for profile in shipped.values() if profile.kind is kind]
        if of_kind:
            blocks.append(f"## {kind.value}")
            blocks += [block for profile in of_kind for block in _profile(profile)]
    return markdown.page("Generic profiles", _INTRO, *blocks, "## Every field", _meanings())


def _meanings() -> str:
    units = {name: unit_of(name) for name in MEANING_BY_FIELD}
    rows = [
        (code(name), units[name].symbol if units[name] else "", Raw(plain(meaning)))
        for name, meaning in MEANING_BY_FIELD.items()
    ]
    return table(("field", "unit", "meaning"), rows)


def _profile(profile: Profile) -> Iterator[str]:
    yield f"### {profile.key}"
    yield f"{plain(profile.title)}."
    rows = [
        (code(field.name), _said(getattr(profile, field.name)))
        for field in fields(profile)
        if field.name not in ("key", "title", "kind") and getattr(profile, field.name) != field.default
    ]
    yield table(("field", "value"), rows)


def _said(value: Any) -> str:
    match value:
        case bool():
            return "yes" if value else "no"
        case float():
            return f"{value:g}"
        case SecretPolicy():
            return f"{value.length_min_count} to {value.length_max_count} characters: {value.alphabet}"
        case FirmwareLine():
            keeps = "keeps" if value.keeps_settings else "clears"
            back = {True: ", may go back", False: ", no way back", None: ""}[value.may_go_back]
            return f"{value.version} ({keeps} settings, pairing generation {value.pairing_generation}{back})"
        case tuple():
            return ", ".join(_said(item) for item in value)
    return str(value)
