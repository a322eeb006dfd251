"""The job as the desk holds it: its text, its revision, and every decision since."""
