"""The model of what a shop uses and how long it takes: layout, evidence, fit, state."""
