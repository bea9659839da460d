"""One module for each generated page: it reads the code and returns the text."""
