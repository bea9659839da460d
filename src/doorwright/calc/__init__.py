"""Formulas and cited tables: numbers in, numbers out, each with its source."""
