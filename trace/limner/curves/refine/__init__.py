"""All nodes, tangents and handles of a path moved together until they meet the data best."""
