"""Drawings made from a site, as SVG text: the building in section, and the tree of the network."""

from doorwright.render.svg.gantt import gantt
from doorwright.render.svg.network import network_tree
from doorwright.render.svg.riser import riser
from doorwright.render.svg.sheet import Drawing

__all__ = ["Drawing", "gantt", "network_tree", "riser"]
