"""Text to syntax tree."""

__all__ = ["source", "tables", "token", "tree"]
