"""A user's workbook to a site, and a site to a workbook."""

from doorwright.store.workbook.reader import read_workbook
from doorwright.store.workbook.report import Reading, Remark
from doorwright.store.workbook.writer import write_template, write_workbook

__all__ = ["Reading", "Remark", "read_workbook", "write_template", "write_workbook"]
