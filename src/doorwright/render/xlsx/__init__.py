"""Tables for the screen of whoever sets units up: what is copied from, not what is read back in."""

from doorwright.render.xlsx.bill import bill_xlsx
from doorwright.render.xlsx.rebuild import rebuild_xlsx

__all__ = ["bill_xlsx", "rebuild_xlsx"]
