"""A first plan of spans by dynamic programming: which samples become nodes."""
