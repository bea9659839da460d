"""Benchmarks: what Doorwright claims of its speed and memory, measured. ``python -m bench`` runs them all."""
