"""A sketch that is mirrored: its figures, each completed or evened out about its axis."""
