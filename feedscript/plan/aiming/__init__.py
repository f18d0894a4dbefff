"""Every feed of a program aimed, or why it cannot be."""

__all__ = ["aimed", "field", "flying", "shots", "solved", "solving", "sweeping"]
