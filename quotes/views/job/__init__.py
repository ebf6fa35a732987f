"""Pages of the bench: rack, jobs, steps."""
