"""How Sphinx builds the documentation. Nothing is fetched: no remote fonts, no links into other projects' indexes."""

from doorwright import __version__

project = "Doorwright"
author = "The Doorwright authors"
project_copyright = "The Doorwright authors"
version = release = __version__

extensions = ["myst_parser"]
source_suffix = {".md": "markdown"}
exclude_patterns = ["_build"]
nitpicky = True

myst_heading_anchors = 3
myst_enable_extensions = ["colon_fence", "deflist"]

html_theme = "furo"
html_title = f"Doorwright {version}"
html_static_path: list[str] = []
html_copy_source = False
html_show_sourcelink = False
