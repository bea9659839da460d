"""Adapters to what lasts: the book (a database), documents, workbooks, profile files and the vault."""
