"""Closed paths mirrored about an axis, without a refit."""
