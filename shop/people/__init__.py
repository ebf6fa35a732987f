"""Customers, their boards and pictures: the verbs that write them."""
