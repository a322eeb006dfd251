"""Turns photographed pencil sketches into closed, filled shapes and press-ready sticker sheets."""
