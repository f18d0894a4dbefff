"""Every feed of a program aimed, or why it cannot be."""

__all__ = ["aimed", "flying", "shots", "solving"]
