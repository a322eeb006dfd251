"""Faces as named, ordered and coloured areas."""
