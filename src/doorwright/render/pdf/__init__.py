"""The papers, as PDF: the site pack for everybody, and the sealed sheet for whoever keeps the secrets."""

from doorwright.render.pdf.edition import Edition
from doorwright.render.pdf.pack import PAPERS, pack_pdf
from doorwright.render.pdf.sealed import sealed_sheet_pdf

__all__ = ["PAPERS", "Edition", "pack_pdf", "sealed_sheet_pdf"]
