"""Sketches traced in processes of their own, so that the page never waits for one."""
