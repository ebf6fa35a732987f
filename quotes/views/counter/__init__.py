"""Pages of the counter: take-in, ways, quotes."""
