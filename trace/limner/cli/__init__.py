"""The command: reads arguments, calls the pipeline, prints a summary. Nothing else.

Only the standard library is imported before it is known what to do, so that help answers at once.
"""
