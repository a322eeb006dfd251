"""What a fit looks at: even samples of a polyline, and its corners."""
