"""Where switches go: as few and as near as cupboards, ports, watts and lengths allow, and how good the plan is."""

from doorwright.plan.placement.problem import (
    Cupboard,
    Demand,
    Existing,
    Kept,
    Prices,
    Problem,
    Root,
    SwitchType,
)
from doorwright.plan.placement.result import Aim, Impossible, Placed, Placement, Run, Status, Uplink
from doorwright.plan.placement.routes import Crossing, Routes, Spot
from doorwright.plan.placement.solve import place

__all__ = [
    "Aim",
    "Crossing",
    "Cupboard",
    "Demand",
    "Existing",
    "Impossible",
    "Kept",
    "Placed",
    "Placement",
    "Prices",
    "Problem",
    "Root",
    "Routes",
    "Run",
    "Spot",
    "Status",
    "SwitchType",
    "Uplink",
    "place",
]
