"""A journal as tables for other programs: what is in each, and the files that hold them."""

__all__ = ["files", "tables"]
