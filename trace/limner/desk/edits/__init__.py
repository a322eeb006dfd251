"""Decisions as edits of the job's text: what changes, where, and how it is taken back."""
