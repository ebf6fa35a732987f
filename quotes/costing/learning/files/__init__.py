"""A history as neutral CSV files, read and written."""
