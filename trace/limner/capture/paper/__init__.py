"""The sheet of paper in a photograph, found and straightened."""
