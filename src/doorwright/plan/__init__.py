"""Planners: each looks at a site and drafts the changes that give what is still to be issued. Nothing issued moves."""
