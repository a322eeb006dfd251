"""Find the axis of a drawing and complete it about that axis."""
