"""The lesson: patterns inlined, every step with its values."""

__all__ = ["patterns"]
