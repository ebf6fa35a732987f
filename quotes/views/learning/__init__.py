"""Pages of what was learned, and how well it predicts."""
