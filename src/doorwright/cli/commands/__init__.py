"""The commands, by phase of the work."""
