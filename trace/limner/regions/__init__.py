"""From ink to a planar map: centrelines, bridged gaps, areas and their order."""
