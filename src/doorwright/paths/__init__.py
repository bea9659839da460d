"""Call paths: who rings, in which order, and who may free which door, for every entrance, dwelling and moment."""
