"""The rehearsed building: every unit of the plan as an actor with its own protocol stack, on virtual time."""
