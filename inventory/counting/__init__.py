"""Counting and weighing the shelf, and why a count and the ledger may differ."""
