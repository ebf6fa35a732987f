"""A whole job worked out: one damage, or a board with several, as one visit."""
