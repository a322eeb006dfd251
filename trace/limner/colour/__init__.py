"""Colours by name, with a press value and a screen value each."""
