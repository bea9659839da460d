"""Doorwright plans, proves, commissions and records IP video door entry."""

__version__ = "0.1.0"
