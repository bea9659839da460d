"""Edits: what people change in a planned site, each a pure function from a walk to changes."""
