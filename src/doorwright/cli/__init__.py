"""The command line: a thin shell over the use-cases."""
