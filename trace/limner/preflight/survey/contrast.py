"""How far two colours can be told apart on the page."""

from limner.model.colour import rgb_of

__all__ = ["contrast_ratio", "luminance"]


def contrast_ratio(one: str, other: str) -> float:
    """Contrast ratio of two screen colours, 1 to 21: Web Content Accessibility Guidelines 2 (from memory)."""
    lighter, darker = sorted((luminance(one), luminance(other)), reverse=True)
    return (lighter + 0.05) / (darker + 0.05)


def luminance(screen: str) -> float:
    """Relative luminance of an sRGB colour "#rrggbb", 0 to 1."""
    values = [value / 255.0 for value in rgb_of(screen)]
    red, green, blue = (
        value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4 for value in values
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue
