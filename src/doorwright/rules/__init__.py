"""Rules: what must be true of a site, each one function, judged over every subject it speaks of."""
