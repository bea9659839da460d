"""An invented ladder of the units of a site: every sort of step, between neighbours and across, with their names."""

from doorwright.model.unit import Unit
from doorwright.model.walk import Walk
from doorwright.rehearse.ladder import Ladder, Noted, Participant, Sent, Sort, Step

NOBODY = Participant("", "nobody there", "203.0.113.250")


def ladder_of_units(walk: Walk, most_count: int) -> Ladder:
    """Return a ladder with so many participants at most; the last is an address that nobody has."""
    units = walk.all(Unit)[: most_count - 1]
    participants = (*(Participant(unit.id, unit.name, unit.address or "203.0.113.9") for unit in units), NOBODY)
    steps: list[Step] = []
    last = len(participants) - 1
    for place in range(last):
        at_s = place * 1.25
        for sort in Sort:
            number = len(steps)
            for sender, taker in ((place, place + 1), (last, place)):
                steps.append(
                    Sent(
                        at_s=at_s, until_s=at_s + 2.0, sender=sender, taker=taker, sort=sort,
                        words=f"{sort.value} to {participants[taker].name}", packets=(number,),
                        lost_count=number % 2, again=number % 3 == 0,
                    )
                )  # fmt: skip
        steps.append(Noted(at_s, place, f"digit 1 freed the door beside {participants[place].name}"))
    return Ladder(participants, tuple(steps))
