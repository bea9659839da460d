"""Drawings made from a site, as SVG text: section, network, power, entrances, levels, and work in time."""

from doorwright.render.svg.elevation import elevations
from doorwright.render.svg.gantt import gantt
from doorwright.render.svg.levels import level_plans
from doorwright.render.svg.network import network_tree
from doorwright.render.svg.power import power_lines
from doorwright.render.svg.riser import riser
from doorwright.render.svg.sheet import Drawing

__all__ = ["Drawing", "elevations", "gantt", "level_plans", "network_tree", "power_lines", "riser"]
