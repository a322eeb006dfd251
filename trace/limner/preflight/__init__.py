"""Checks of a sheet before it goes to press."""
