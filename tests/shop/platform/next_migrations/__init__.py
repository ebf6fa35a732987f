"""The shop's migrations with one that a next version might bring."""
