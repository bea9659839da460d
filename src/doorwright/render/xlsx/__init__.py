"""Tables for the screen of whoever sets units up: what is copied from, not what is read back in."""

from doorwright.render.xlsx.rebuild import rebuild_xlsx

__all__ = ["rebuild_xlsx"]
