"""The commands, one a file; each module holds its command as `COMMAND`."""
