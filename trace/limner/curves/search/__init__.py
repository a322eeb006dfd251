"""Where the nodes of a path go: the fewest segments, then nodes where a designer would set them."""
