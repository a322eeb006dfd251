"""The hand's tremor is taken out of a line before it is fitted."""
