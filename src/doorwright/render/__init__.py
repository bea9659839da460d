"""Adapters to paper and files: drawings, papers, schedules."""
