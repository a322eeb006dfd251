"""From ink to the graph of its centrelines."""
