"""What a launcher that somebody builds must be made of: its parts' ratings, and drawings."""

__all__ = ["build_file", "parts", "sheets"]
