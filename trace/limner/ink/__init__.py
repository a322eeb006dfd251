"""From a flat page to the ink on it: what is pencil, and what is not."""
