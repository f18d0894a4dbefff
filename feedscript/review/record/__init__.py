"""What the lessons of one player come to, from one lesson to the next."""

__all__ = ["family", "figures", "forms", "history", "page"]
