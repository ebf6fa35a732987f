"""Looking back at finished jobs: actual cost against the quoted, and why they differ."""
