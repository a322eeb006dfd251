"""Lines of a steady width, rebuilt from the strokes of the hand."""
