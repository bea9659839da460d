"""Key plans: every dwelling served by a direct-key unit has one key there, and every key is where a key can be."""

from collections.abc import Iterator
from functools import partial
from typing import Final

from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.legend import shortened
from doorwright.model.naming import named
from doorwright.model.place import Dwelling, Entrance
from doorwright.model.profile import Profile, ProfileKind
from doorwright.model.unit import Key, KeyModule, Unit, UnitKind
from doorwright.model.walk import Walk
from doorwright.rules.example import as_it_is, both, plus, put, without
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.saying import found_or_holds

PLANNING: Final = (Phase.PLANNING, Phase.OPERATION)
CALLING: Final = Cite("iec62820-1-1", "addressed calling")
DATA_SHEET: Final = Cite("practice", "the data sheet of the unit says how many keys and modules it takes")

ADVANCE_MM: Final = 2.0
"""How far one character moves the text on at 2.5 mm letter height: about 0.8 of the height of a capital in a plain
face. Common practice for legend strips; the label renderer measures the real text."""


def _direct(walk: Walk, unit: Unit) -> Profile | None:
    """Return the profile of a visitor call unit on which every dwelling needs a key, or None."""
    if unit.kind is not UnitKind.VCU:
        return None
    profile = walk.profile(unit.profile)
    if profile is None or profile.keypad or profile.directory_max_count:
        return None
    return profile if profile.keys_count or profile.modules_max_count else None


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CALLING, Cite("practice", "one key for each dwelling served")),
    finds=Example("The key of dwelling 101 is taken away.", without(Key, "key-1")),
    passes=Example("Each dwelling that the main entrance serves has a key.", as_it_is),
)
def dwelling_without_key(facts: Facts, unit: Unit) -> Said:
    """No key of a direct-key unit rings a dwelling that its entrance serves.

    Why it matters: visitors at this entrance cannot call the dwelling.
    What to do: give it a key; where all keys are taken, add a key module or another visitor call unit.
    """
    walk = facts.walk
    if _direct(walk, unit) is None or unit.entrance is None:
        return
    entrance = walk.find(Entrance, unit.entrance)
    if entrance is None:
        yield lacks(unit, "entrance")
        return
    rung = {key.dwelling for key in walk.keys_of(unit.id)}
    yield from found_or_holds(
        Found(f"{named(walk, unit)}: no key rings {named(walk, dwelling)}", (dwelling,))
        for dwelling in walk.dwellings_served(entrance)
        if dwelling.id not in rung
    )


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CALLING, Cite("iec62820-1-1", "security management unit")),
    finds=Example("The desk's key is taken away.", without(Key, "key-desk")),
    passes=Example(
        "The desk's key is taken away, and the main entrance calls no desk.",
        both(without(Key, "key-desk"), put(Entrance, "entrance-main", calls_desk=False)),
    ),
)
def desk_without_key(facts: Facts, unit: Unit) -> Said:
    """No key of a direct-key unit rings the desk that its entrance calls.

    Why it matters: visitors who look for the porter find no key for one.
    What to do: give the desk a key, commonly the one built in, or say that the entrance calls no desk.
    """
    walk = facts.walk
    entrance = walk.find(Entrance, unit.entrance) if _direct(walk, unit) else None
    if entrance is None:
        return
    if not entrance.calls_desk or any(key.desk for key in walk.keys_of(unit.id)):
        yield HOLDS
    else:
        yield Found(f"{named(walk, unit)}: no key rings the desk")


@rule(
    over=Key,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CALLING, Cite("practice", "a key rings one dwelling or one desk")),
    finds=Example("The key of dwelling 101 names a dwelling that is not there.", put(Key, "key-1", dwelling="flat-99")),
    passes=Example("The key of dwelling 101 rings the desk.", put(Key, "key-1", dwelling=None, desk="smu-desk")),
)
def key_rings_nothing(facts: Facts, key: Key) -> Said:
    """A key rings nothing, nothing that exists, or two things.

    Why it matters: a visitor presses it and nobody answers, while its legend promises a home.
    What to do: let the key name one dwelling or one desk of the site, or take it out of the plan and leave it blank.
    """
    walk = facts.walk
    target = walk.find(Dwelling, key.dwelling) if key.dwelling else walk.find(Unit, key.desk)
    if key.dwelling and key.desk:
        yield Found(f"{named(walk, key)} rings both a dwelling and a desk")
    elif not key.dwelling and not key.desk:
        yield Found(f"{named(walk, key)} rings neither a dwelling nor a desk")
    elif target is None:
        yield Found(f"{named(walk, key)} rings {key.dwelling or key.desk!r}, which the site does not have")
    elif isinstance(target, Unit) and target.kind is not UnitKind.SMU:
        yield Found(f"{named(walk, key)} rings {named(walk, target)}, which is no desk unit (SMU)", (target,))
    else:
        yield HOLDS


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(CALLING, Cite("practice", "an entrance calls the dwellings that it serves")),
    finds=Example(
        "The main entrance serves dwellings 102, 201 and 202 only; its key for 101 stays.",
        put(Entrance, "entrance-main", serves_buildings=(), serves_dwellings=("flat-2", "flat-3", "flat-4")),
    ),
    passes=Example(
        "The main entrance serves the four dwellings one by one.",
        put(Entrance, "entrance-main", serves_buildings=(), serves_dwellings=("flat-1", "flat-2", "flat-3", "flat-4")),
    ),
)
def key_rings_dwelling_not_served(facts: Facts, unit: Unit) -> Said:
    """A key rings a dwelling that its entrance does not serve.

    Why it matters: visitors disturb a home that lies behind another door, and whoever answers cannot let them in.
    What to do: take the key away, or let the entrance serve the dwelling if visitors do come that way.
    """
    walk = facts.walk
    keys = walk.keys_of(unit.id)
    if not keys or unit.kind is not UnitKind.VCU or unit.entrance is None:
        return
    entrance = walk.find(Entrance, unit.entrance)
    if entrance is None:
        yield lacks(unit, "entrance")
        return
    served = {dwelling.id for dwelling in walk.dwellings_served(entrance)}
    yield from found_or_holds(
        Found(
            f"{named(walk, key)} rings {named(walk, dwelling)}, which {named(walk, entrance)} does not serve",
            (key, dwelling),
        )
        for key in keys
        if key.dwelling is not None and key.dwelling not in served and (dwelling := walk.find(Dwelling, key.dwelling))
    )


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=PLANNING,
    cites=(Cite("practice", "one key for each dwelling served"),),
    finds=Example(
        "A second key rings dwelling 101.", plus(Key(id="key-9", unit="vcu-main", module=1, slot=6, dwelling="flat-1"))
    ),
    passes=Example("Each dwelling has one key.", as_it_is),
)
def dwelling_on_two_keys(facts: Facts, unit: Unit) -> Said:
    """Two keys of one unit ring the same dwelling.

    Why it matters: one of the two most often should ring somebody else, who now has no key; and keys are scarce.
    What to do: check the key plan; take one of the keys away.
    """
    keys_of: dict[str, list[Key]] = {}
    for key in facts.walk.keys_of(unit.id):
        if key.dwelling is not None:
            keys_of.setdefault(key.dwelling, []).append(key)
    if keys_of:
        yield from found_or_holds(_twice(facts.walk, unit, keys_of))


def _twice(walk: Walk, unit: Unit, keys_of: dict[str, list[Key]]) -> Iterator[Found]:
    for target, keys in keys_of.items():
        dwelling = walk.find(Dwelling, target) if len(keys) > 1 else None
        if dwelling is not None:
            keys.sort(key=lambda key: (key.module, key.slot, key.id))
            labels = ", ".join(key.label for key in keys)
            yield Found(f"{named(walk, unit)}: {named(walk, dwelling)} is on {labels}", (dwelling, *keys))


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(Cite("practice", "one key in one place"),),
    finds=Example("The keys of dwellings 101 and 102 get the same slot.", put(Key, "key-2", slot=1)),
    passes=Example(
        "The keys of dwellings 101 and 102 exchange their slots.",
        both(put(Key, "key-1", slot=2), put(Key, "key-2", slot=1)),
    ),
)
def two_keys_in_one_slot(facts: Facts, unit: Unit) -> Said:
    """Two keys are planned for the same place.

    Why it matters: only one of them can be there; the other dwelling has no key, and the legend is wrong for one.
    What to do: move one of the keys to a free slot, the one whose label is not made yet.
    """
    keys_at: dict[tuple[int, int], list[Key]] = {}
    for key in facts.walk.keys_of(unit.id):
        keys_at.setdefault((key.module, key.slot), []).append(key)
    if keys_at:
        yield from found_or_holds(
            Found(
                f"{named(facts.walk, unit)}: {len(keys)} keys are planned for {keys[0].label}",
                tuple(sorted(keys, key=lambda key: key.id)),
            )
            for keys in keys_at.values()
            if len(keys) > 1
        )


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(DATA_SHEET,),
    finds=Example("The key of dwelling 101 is put on slot 7 of a module of six.", put(Key, "key-1", slot=7)),
    passes=Example("The key of dwelling 101 is put on slot 6.", put(Key, "key-1", slot=6)),
)
def key_where_none_can_be(facts: Facts, unit: Unit) -> Said:
    """A key is planned on a module or slot that the unit does not have.

    Why it matters: the key cannot be fitted, so its dwelling cannot be called.
    What to do: move the key to a free slot, or add the module.
    """
    walk = facts.walk
    keys = walk.keys_of(unit.id)
    if not keys:
        return
    own = walk.profile(unit.profile)
    if own is None:
        yield lacks(unit, "profile")
        return
    slots_count = {0: own.keys_count}
    for module in _in_order(walk, unit):
        profile = walk.profile(module.profile)
        slots_count[module.ordinal] = profile.keys_count if profile else 0
    yield from found_or_holds(
        Found(
            f"{named(walk, key)}: there is no module {key.module}"
            if key.module not in slots_count
            else f"{named(walk, key)}: {'module ' + str(key.module) if key.module else 'the unit itself'} has"
            f" {slots_count[key.module]} keys, not {key.slot}",
            (key,),
        )
        for key in keys
        if not 1 <= key.slot <= slots_count.get(key.module, 0)
    )


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(DATA_SHEET,),
    finds=Example(
        "Seventeen modules are planned beside the main unit, which takes sixteen.",
        plus(*(KeyModule(id=f"extra-{n}", unit="vcu-main", profile="key-module-6", ordinal=n) for n in range(2, 18))),
    ),
    passes=Example(
        "Sixteen modules are planned beside it.",
        plus(*(KeyModule(id=f"extra-{n}", unit="vcu-main", profile="key-module-6", ordinal=n) for n in range(2, 17))),
    ),
)
def too_many_modules(facts: Facts, unit: Unit) -> Said:
    """More key modules are planned than the unit takes.

    Why it matters: the last modules cannot be connected; their dwellings cannot be called.
    What to do: move dwellings to another visitor call unit, or choose one with a keypad or directory.
    """
    walk = facts.walk
    modules = _in_order(walk, unit)
    if not modules:
        return
    own = walk.profile(unit.profile)
    if own is None:
        yield lacks(unit, "profile")
        return
    keyed = [module for module in modules if not _is_lock_module(walk, module)]
    if len(keyed) > own.modules_max_count:
        yield Found(
            f"{named(walk, unit)}: {len(keyed)} key modules are planned, it takes {own.modules_max_count}",
            tuple(keyed),
        )
    else:
        yield HOLDS


def _in_order(walk: Walk, unit: Unit) -> list[KeyModule]:
    return sorted(walk.modules_of(unit.id), key=lambda module: (module.ordinal, module.id))


def _is_lock_module(walk: Walk, module: KeyModule) -> bool:
    profile = walk.profile(module.profile)
    return profile is not None and profile.kind is ProfileKind.LOCK_MODULE


@rule(
    over=Unit,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(DATA_SHEET,),
    finds=Example(
        "Both modules of the main unit are counted as the first.",
        plus(KeyModule(id="extra", unit="vcu-main", profile="key-module-6", ordinal=1)),
    ),
    passes=Example(
        "The second is counted as the second.",
        plus(KeyModule(id="extra", unit="vcu-main", profile="key-module-6", ordinal=2)),
    ),
)
def modules_out_of_order(facts: Facts, unit: Unit) -> Said:
    """The modules of a unit are not counted 1, 2, 3 without gap or repeat.

    Why it matters: keys name their module by its count. With a gap or a repeat, keys ring the wrong homes.
    What to do: count the modules in the order in which they are mounted.
    """
    modules = facts.walk.modules_of(unit.id)
    if not modules:
        return
    ordinals = sorted(module.ordinal for module in modules)
    if ordinals == list(range(1, len(modules) + 1)):
        yield HOLDS
    else:
        counted = ", ".join(map(str, ordinals))
        yield Found(f"{named(facts.walk, unit)}: its {len(modules)} modules are counted {counted}")


@rule(
    over=KeyModule,
    severity=Severity.ERROR,
    phases=PLANNING,
    cites=(DATA_SHEET,),
    finds=Example("A switch is entered as the key module.", put(KeyModule, "module-1", profile="switch-8")),
    passes=Example("The module is of the type that the unit takes.", as_it_is),
)
def wrong_module(facts: Facts, module: KeyModule) -> Said:
    """A module is not of a type that its unit takes.

    Why it matters: it does not fit or is not recognised; its keys ring nobody.
    What to do: choose the module that the unit's data sheet names, or a lock module.
    """
    walk = facts.walk
    unit = walk.find(Unit, module.unit)
    own = walk.profile(unit.profile) if unit else None
    profile = walk.profile(module.profile)
    if unit is None:
        yield Found(f"{named(walk, module)} belongs to {module.unit!r}, which the site does not have")
    elif own is None:
        yield lacks(unit, "profile")
    elif profile is None:
        yield lacks(module, "profile")
    elif profile.kind is ProfileKind.LOCK_MODULE or profile.key == own.module:
        yield HOLDS
    else:
        takes = own.module or "none"
        yield Found(f"{named(walk, module)} is a {profile.title!r} ({profile.key}); the unit takes {takes}", (unit,))


@rule(
    over=Unit,
    severity=Severity.WARNING,
    phases=(Phase.PLANNING, Phase.HANDOVER),
    cites=(Cite("practice", "legend letters at least 2.5 mm high"),),
    finds=Example(
        "Dwelling 101 gets a legend of 46 characters on a strip of 60 mm.",
        put(Dwelling, "flat-1", legend="Consultancy for Applied Examples and Invention"),
    ),
    passes=Example(
        "Dwelling 101 gets a legend of 20 characters.", put(Dwelling, "flat-1", legend="Office of an Example")
    ),
)
def legend_too_long(facts: Facts, unit: Unit) -> Said:
    """A legend is likely too long for its strip.

    Why it matters: text that must be set smaller than 2.5 mm high cannot be read at the door, least of all by those who
    see badly.
    What to do: shorten the legend; the width is an estimate, the printed strip shows the truth.
    """
    walk = facts.walk
    own = walk.profile(unit.profile) if walk.keys_of(unit.id) else None
    if own is None:
        return
    width_mm = {0: own.legend_width_mm}
    for module in _in_order(walk, unit):
        profile = walk.profile(module.profile)
        width_mm[module.ordinal] = profile.legend_width_mm if profile else None
    yield from found_or_holds(_too_long(walk, unit, width_mm))


def _too_long(walk: Walk, unit: Unit, width_mm: dict[int, float | None]) -> Iterator[Found]:
    for key in walk.keys_of(unit.id):
        strip_mm = width_mm.get(key.module)
        dwelling = walk.find(Dwelling, key.dwelling)
        if strip_mm is None or dwelling is None:
            continue
        legend = dwelling.legend or dwelling.door_label
        text_mm = len(legend) * ADVANCE_MM
        if not _short_enough(legend, strip_mm):
            shorter = shortened(legend, partial(_short_enough, strip_mm=strip_mm))
            offer = f"; {shorter!r} would fit" if shorter else ""
            yield Found(
                f"{named(walk, key)}: legend {legend!r} takes about {text_mm:.0f} mm,"
                f" the strip has {strip_mm:.0f} mm{offer}",
                (key, dwelling),
            )


def _short_enough(legend: str, strip_mm: float) -> bool:
    return len(legend) * ADVANCE_MM <= strip_mm
