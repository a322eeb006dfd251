"""The cut line of a sticker: offset, forms, promises."""
