"""What is on the shelf and what it is worth: movements, lots, totals, prices, and the proof that they agree."""
