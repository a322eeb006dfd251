"""From polylines to cubics: few nodes, known error."""
