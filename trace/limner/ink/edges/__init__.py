"""Where between two pixels the edge of the ink runs."""
