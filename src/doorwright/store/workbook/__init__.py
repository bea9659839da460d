"""A user's workbook to a site, and a site to a workbook."""

from doorwright.store.workbook.reader import read_sheets, read_workbook
from doorwright.store.workbook.report import Reading, Remark
from doorwright.store.workbook.writer import template_bytes, workbook_bytes

__all__ = ["Reading", "Remark", "read_sheets", "read_workbook", "template_bytes", "workbook_bytes"]
