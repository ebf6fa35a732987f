"""Log-normal sums and mixtures, and the assumptions about spread. Knows nothing of boards."""
