"""From a file to a flat page: decode, find the paper, straighten it, even out the light."""
