"""A list of customers that the shop already has, read line by line and brought in at once."""
