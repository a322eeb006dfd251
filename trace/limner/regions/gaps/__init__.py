"""Gaps that the pencil left, and the bridges that close them."""
