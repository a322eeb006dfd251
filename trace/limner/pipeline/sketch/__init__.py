"""One sketch, or many: from the file to closed, filled shapes."""
