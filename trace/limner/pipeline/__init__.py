"""The only package that knows the order of the stages."""
