"""What every other package may lean on: units, sources, calculations, verdicts, observations, refusals."""
