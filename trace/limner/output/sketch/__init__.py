"""The files of one traced sketch."""
