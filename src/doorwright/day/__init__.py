"""A day of calls in a building, played many times over: visitors, entrances, dwellings that answer or not, the desk."""
