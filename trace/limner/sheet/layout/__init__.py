"""Where stickers lie on a sheet."""
