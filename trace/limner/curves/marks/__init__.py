"""Corners that somebody asked for, or asked away: where they are, and what they do to a line."""
