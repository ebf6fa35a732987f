"""Steps begun and done, late ones, corrections, and their words."""
