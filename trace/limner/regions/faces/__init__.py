"""Faces of the planar map: walked, measured, merged."""
