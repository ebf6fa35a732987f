"""A history as CSV files for interchange, read and written."""
