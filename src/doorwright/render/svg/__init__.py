"""Drawings made from a site, as SVG text: the building in section, and the tree of the network."""
