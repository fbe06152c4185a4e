"""How hits of a search can be sorted. By itself, so that a command's help need not load the search."""

ORDERS = ("newest", "oldest", "best", "confidence", "down")
"""By note, by fit, the least sure first, by down and distance."""
