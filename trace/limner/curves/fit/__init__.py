"""Paths through polylines: few cubics, within a tolerance or a budget, each with its error."""
