"""What each paper says, as plain data: one file a paper. How it looks is the template's affair."""
