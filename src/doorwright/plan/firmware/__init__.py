"""A firmware step as work: what it clears, who stops talking, what to record first, and an order of work in waves.

The model, exactly.

*Who stands where.* A unit speaks the pairing generation of its firmware's line. Two units talk when both are up and
speak the same generation. A SIP server that is not a unit is always up and speaks every generation. A unit that
registers with nothing is its own registrar, embedded in it.

*Reachable.* A dwelling is reachable in a moment when, for some VCU of an entrance that serves it, that VCU and the
dwelling's primary receiver have the same registrar, and the VCU, the registrar (where it is a unit) and the receiver
are up and speak one generation. Secondaries do not count. Dwellings that are reachable neither before nor after the
work, or of which the book cannot tell (no primary receiver, unknown firmware), are told and not counted.

*Down.* A visit to a dwelling takes all of its receivers that step; any other unit is stepped by itself. From the start
they are down for: 1 minute a unit to start, then the longest loading (step and restart of every line passed), then, of
cleared units, 2 minutes for each end of a pairing entered there (a cleared registrar has one more for each unit that
registers with it), then the longest settling. A technician is busy while starting and while entering; a unit that
is loaded never waits for him.

*Counting.* Time runs in slots of 5 to 60 minutes. Jobs start with a slot, and part of a slot of downtime counts as a
whole one; minutes of work are shared out slot by slot, ``technicians × slot`` in each. A wave starts in one slot.

*Groups.* Dwellings are interchangeable, and planned as a number, where their visits take equally long, their primaries
have the same generations before and after, and they need the same of the stations that move (their entrances' VCUs and
registrars); a way to ring that passes all that another passes, and more, adds nothing and is left out. Within a group,
visits go to the dwellings in walking order.

*Best.* Fewest dwelling-slots without any entrance until the last job is done; of those orders, the one that is done
first; among orders that take no longer than the longest of six fixed ones. A lower bound tells how far the plan may be
from that.
"""
