"""The materials themselves: their entries, packs, and what a new shop starts with."""
