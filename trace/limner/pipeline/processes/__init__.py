"""Processes and threads: the work spread over cores, and told of as it goes."""
