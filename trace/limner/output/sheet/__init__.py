"""The files of a sheet."""
