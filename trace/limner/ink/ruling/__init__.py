"""Printed lines of ruled and squared paper, found and taken out."""
