"""The ink of a figure completed about its axis, before areas are sought."""
