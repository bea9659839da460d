"""What numbers say about a site: each study picks facts from it, calls ``calc`` and keeps the steps for the annex."""
