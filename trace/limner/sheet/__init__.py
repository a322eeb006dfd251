"""From drawings to a sheet: layout, lettering and cut lines."""
