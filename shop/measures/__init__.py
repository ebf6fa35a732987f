"""Quantities with units, numerals as people type them, money."""
