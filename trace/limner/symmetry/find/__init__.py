"""The axis of a drawing, found from what is drawn - or refused."""
