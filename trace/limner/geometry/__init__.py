"""Exact operations on cubic paths that several stages share: below the stages, above the values."""
