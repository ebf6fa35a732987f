"""Recipes: measures, places, operations in order, and what lies on what."""
