"""From values to bytes: SVG, PDF, pictures and reports."""
