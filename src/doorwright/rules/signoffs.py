"""Sign-offs: what a person's word is asked for before handover. Doorwright records it; it approves nothing."""

from dataclasses import replace
from datetime import date
from typing import Final

from doorwright.kernel.signoff import Statement
from doorwright.kernel.source import Cite
from doorwright.kernel.verdict import Phase, Severity
from doorwright.model.door import Door
from doorwright.model.naming import name_of_subject, named
from doorwright.model.site import Site
from doorwright.rules.doors import CAUTION
from doorwright.rules.example import as_it_is, put
from doorwright.rules.rule import HOLDS, Example, Facts, Found, Said, lacks, rule
from doorwright.rules.sound import sound_sign_offs

WITNESSED: Final = Cite("practice", "releases on escape routes are tested with the competent person, and noted")
RELEASES: Final = (Statement.ESCAPE_RELEASE, Statement.FIRE_RELEASE)


@rule(
    over=Door,
    severity=Severity.NOTE,
    phases=(Phase.HANDOVER, Phase.OPERATION),
    cites=(WITNESSED, Cite("bs7273-4")),
    finds=Example("Nobody has given their word that the main door's releases were tested.", as_it_is, signed=()),
    passes=Example("The person responsible for fire safety has.", as_it_is),
)
def release_not_signed_off(facts: Facts, door: Door) -> Said:
    """No current word is recorded that the release of a door on an escape route was tested.

    Why it matters: whether people can leave is decided by a test at the door, with the person who answers for it. This
    program cannot make that test, and a plan without findings does not stand in for it.
    What to do: have the release tested by the competent person, and record their word with `doorwright sign-off`.
    """
    if facts.sign_offs is None or door.escape_route is False:
        return
    if door.escape_route is None:
        yield lacks(door, "escape route")
        return
    given = facts.sign_offs.get(door.subject, {})
    wanted = RELEASES if door.fire_release else RELEASES[:1]
    open_ones = []
    for statement in wanted:
        last = given.get(statement)
        if last is None:
            open_ones.append(f'"{statement}" is not signed off')
        elif last.has_ended(facts.today):
            open_ones.append(f'"{statement}", signed off by {last.name} ({last.role}), ended on {last.until}')
    if open_ones:
        yield Found(f"{named(facts.walk, door)} is on an escape route: {'; '.join(open_ones)}. {CAUTION}")
    else:
        yield HOLDS


@rule(
    over=Site,
    severity=Severity.NOTE,
    phases=(Phase.HANDOVER, Phase.OPERATION),
    cites=(Cite("practice", "certificates and training have a last day, and are renewed"),),
    finds=Example(
        "A training ended on 2031-05-05.",
        as_it_is,
        signed=(
            *sound_sign_offs(),
            replace(sound_sign_offs()[0], id="sign-off-3", statement=Statement.TRAINING, until=date(2031, 5, 5)),
        ),
    ),
    passes=Example(
        "It lasts until 2032-05-05, whatever else is edited.",
        put(Door, "door-gate", release_s=9.0),
        signed=(
            *sound_sign_offs(),
            replace(sound_sign_offs()[0], id="sign-off-3", statement=Statement.TRAINING, until=date(2032, 5, 5)),
        ),
    ),
)
def sign_off_ended(facts: Facts, site: Site) -> Said:
    """A sign-off has passed its last day.

    Why it matters: what was tested, certified or taught then is no longer vouched for by anybody.
    What to do: ask the person, or who has taken their place, and record their new word.
    """
    del site  # names are asked for through the walk, so that a watch knows what was looked at
    for subject, given in sorted((facts.sign_offs or {}).items()):
        for statement, last in given.items():
            if statement in RELEASES:
                continue  # the rule on the door tells of these
            if last.has_ended(facts.today):
                whose = name_of_subject(facts.walk, subject)
                yield Found(
                    f'{whose}: "{statement}", signed off by {last.name} ({last.role}) on {last.on},'
                    f" ended on {last.until}"
                )
            elif last.until is not None:
                yield HOLDS
