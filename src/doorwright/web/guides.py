"""The changes that people make to a planned building, each with the few facts that it asks for."""

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from types import MappingProxyType
from typing import Final, TypeAlias

from doorwright.app.means import Means
from doorwright.model.label import natural_key
from doorwright.model.naming import name_of
from doorwright.model.network import Subnet, Switch
from doorwright.model.part import Part
from doorwright.model.place import Core, Dwelling, Entrance, Level, Place
from doorwright.model.profile import Profile
from doorwright.model.unit import SecretUse, Unit
from doorwright.model.walk import Walk
from doorwright.plan.edits.dwellings import add_dwelling, merge_dwellings, remove_dwelling
from doorwright.plan.edits.edit import Edit
from doorwright.plan.edits.moving import move_unit
from doorwright.plan.edits.profiling import renew_profile
from doorwright.plan.edits.renaming import rename
from doorwright.plan.edits.renewing import new_secret, new_subnet
from doorwright.plan.edits.replacing import replace_unit

Given: TypeAlias = Mapping[str, str]
"""What was typed, by the name of the field; a field left blank is not there."""
Offers: TypeAlias = Callable[[Walk, Means], Iterable[str]]


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """One fact that a change asks for. ``offers`` are what may be typed, where that can be listed."""

    name: str
    label: str
    hint: str = ""
    required: bool = False
    offers: Offers | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Guide:
    """One kind of change: its step in the address, what it is for, what it asks, and the edit it makes."""

    step: str
    title: str
    what: str
    asks: tuple[Asked, ...]
    edit: Callable[[Walk, Means, Given], Edit]
    needs_vault: bool = False
    recheck: bool = False


def _named(*kinds: type[Part]) -> Offers:
    def offers(walk: Walk, _: Means) -> Iterable[str]:
        """Return the labels; where several parts share one, with what they belong to before it."""
        parts = [part for kind in kinds for part in walk.all(kind)]
        names = {_call(walk, part) for part in parts}
        return sorted(names, key=natural_key)

    return offers


def _call(walk: Walk, part: Part) -> str:
    if isinstance(part, Dwelling) and len(walk.dwellings_labelled(part.door_label)) > 1:
        core = walk.find(Core, part.core)
        return f"{core.name}/{part.door_label}" if core is not None else part.door_label
    return part.label if isinstance(part, Dwelling) else name_of(walk, part)


def _types(walk: Walk, means: Means) -> dict[str, Profile]:
    """Return the types to choose from: this machine's, and the site's own, which stand as they were taken in."""
    return {**means.profiles(), **{profile.key: profile for profile in walk.settings().profiles}}


def _type_keys(walk: Walk, means: Means) -> Iterable[str]:
    return sorted(_types(walk, means))


_UNIT: Final = Asked(name="unit", label="Unit or switch", required=True, offers=_named(Unit, Switch))
_SERIAL_HINT: Final = "As printed on the box."
_USES: Final = MappingProxyType({"device": SecretUse.DEVICE, "sip": SecretUse.SIP})

GUIDES: Final = (
    Guide(
        step="replace",
        title="Replace a unit",
        what="Another box in the place of a unit or switch: number, address, keys, port and secrets stay.",
        asks=(
            _UNIT,
            Asked(name="serial", label="Serial number of the new box", required=True, hint=_SERIAL_HINT),
            Asked(name="mac", label="Its MAC address"),
            Asked(name="profile", label="Its type", hint="Where that is another one.", offers=_type_keys),
            Asked(name="firmware", label="Its firmware version", hint="Blank: not known."),
        ),
        edit=lambda walk, means, given: replace_unit(
            walk,
            given["unit"],
            serial=given["serial"],
            mac=given.get("mac"),
            profile=given.get("profile"),
            firmware=given.get("firmware"),
            profiles=_types(walk, means),
        ),
    ),
    Guide(
        step="add-dwelling",
        title="Add a dwelling",
        what="A dwelling with a receiver: it gets a number, keys, an address, a registrar and secrets.",
        asks=(
            Asked(name="label", label="What stands on its door", required=True),
            Asked(name="core", label="Core", required=True, offers=_named(Core)),
            Asked(name="level", label="Level", required=True, offers=_named(Level)),
            Asked(name="profile", label="Type of its receiver", hint="Blank: as most in the core.", offers=_type_keys),
            Asked(name="serial", label="Serial number of its receiver", hint=_SERIAL_HINT),
            Asked(name="mac", label="MAC address of its receiver"),
        ),
        edit=lambda walk, means, given: add_dwelling(
            walk,
            given["label"],
            core=given["core"],
            level=given["level"],
            profile=given.get("profile"),
            serial=given.get("serial"),
            mac=given.get("mac"),
            profiles=_types(walk, means),
            new_id=means.new_id,
        ),
    ),
    Guide(
        step="merge-dwellings",
        title="Make one dwelling of several",
        what="The first takes over the receivers of the others, whose numbers and keys go.",
        asks=(
            Asked(name="keep", label="The dwelling that stays", required=True, offers=_named(Dwelling)),
            Asked(
                name="others", label="The dwellings that become part of it", required=True, hint="With commas between."
            ),
        ),
        edit=lambda walk, _, given: merge_dwellings(walk, given["keep"], _listed(given["others"])),
    ),
    Guide(
        step="remove-dwelling",
        title="Give a dwelling up",
        what="It goes, with its receivers, keys and number.",
        asks=(Asked(name="label", label="Dwelling", required=True, offers=_named(Dwelling)),),
        edit=lambda walk, _, given: remove_dwelling(walk, given["label"]),
    ),
    Guide(
        step="move",
        title="Move a unit",
        what="A unit or switch goes elsewhere. Its address and cable run stay; its place in the group is issued anew.",
        asks=(
            _UNIT,
            Asked(
                name="to",
                label="Where to",
                required=True,
                hint="A dwelling, entrance or place, as the kind of unit asks.",
                offers=_named(Entrance, Place, Dwelling),
            ),
        ),
        edit=lambda walk, _, given: move_unit(walk, given["unit"], given["to"]),
    ),
    Guide(
        step="rename",
        title="Call a part something else",
        what="A dwelling keeps its call number.",
        asks=(
            Asked(name="part", label="Part", required=True, offers=_named(Dwelling, Unit, Switch, Entrance)),
            Asked(name="to", label="The new name", required=True, hint="Of a dwelling: what is to stand on its door."),
        ),
        edit=lambda walk, _, given: rename(walk, given["part"], given["to"]),
    ),
    Guide(
        step="new-secret",
        title="Make new secrets",
        what="For a unit or switch. The old ones stay in the vault's history.",
        asks=(
            _UNIT,
            Asked(
                name="use",
                label="Which of its secrets",
                hint="device or sip; blank: all.",
                offers=lambda _walk, _means: tuple(_USES),
            ),
        ),
        edit=lambda walk, _, given: new_secret(walk, given["unit"], _USES.get(given.get("use", ""))),
        needs_vault=True,
    ),
    Guide(
        step="new-subnet",
        title="Give a subnet another range",
        what="Only addresses that the new range cannot have are issued anew.",
        asks=(
            Asked(name="subnet", label="Subnet", required=True, offers=_named(Subnet)),
            Asked(name="cidr", label="The new range", required=True, hint="Such as 198.51.100.0/24."),
            Asked(name="gateway", label="The new gateway", hint="Blank: the old one, if it lies in the range."),
        ),
        edit=lambda walk, _, given: new_subnet(walk, given["subnet"], cidr=given["cidr"], gateway=given.get("gateway")),
    ),
    Guide(
        step="renew-profile",
        title="Take a corrected data sheet in",
        what="The book keeps a type's data sheet as it was planned with. Parts keep what was issued to them.",
        asks=(
            Asked(
                name="key",
                label="Type",
                required=True,
                offers=lambda walk, _: sorted(profile.key for profile in walk.settings().profiles),
            ),
        ),
        edit=lambda walk, means, given: renew_profile(walk, given["key"], means.profiles()),
        recheck=True,
    ),
)
GUIDE_BY_STEP: Final = MappingProxyType({guide.step: guide for guide in GUIDES})


def _listed(text: str) -> tuple[str, ...]:
    return tuple(part.strip() for part in text.split(",") if part.strip())
