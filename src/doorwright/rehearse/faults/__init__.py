"""Faults put into a rehearsed building on purpose: the causes that the trade knows, each at one end of the plan."""

from doorwright.rehearse.faults.catalogue import FAULTS, with_faults
from doorwright.rehearse.faults.fault import Boxes, Fault, UnfitError

__all__ = ["FAULTS", "Boxes", "Fault", "UnfitError", "with_faults"]
