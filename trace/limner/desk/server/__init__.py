"""The desk's local server: what it shows, what it takes, and from whom."""
