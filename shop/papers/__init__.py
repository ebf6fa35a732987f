"""Papers as PDF, and the drawings and charts on papers and screens."""
