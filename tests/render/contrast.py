"""Contrast of two colours as WCAG 2.2 defines it, and the grey that a copier makes of a colour."""

from __future__ import annotations


def luminance(colour: str) -> float:
    """Relative luminance of "#rrggbb" (WCAG 2.2, definition of relative luminance): 0 black, 1 white."""
    red, green, blue = (_linear(int(colour[place : place + 2], 16) / 255) for place in (1, 3, 5))
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _linear(part: float) -> float:
    return part / 12.92 if part <= 0.04045 else float(((part + 0.055) / 1.055) ** 2.4)


def contrast(one: str, other: str) -> float:
    """Contrast ratio, 1 to 21 (WCAG 2.2, definition of contrast ratio)."""
    darker, lighter = sorted((luminance(one), luminance(other)))
    return (lighter + 0.05) / (darker + 0.05)


def grey(colour: str) -> str:
    """The grey of the same luma (Filter Effects Module Level 1, grayscale(1): 0.2126, 0.7152, 0.0722 of the parts)."""
    parts = (int(colour[place : place + 2], 16) for place in (1, 3, 5))
    level = round(sum(weight * part for weight, part in zip((0.2126, 0.7152, 0.0722), parts, strict=True)))
    return f"#{level:02x}{level:02x}{level:02x}"
