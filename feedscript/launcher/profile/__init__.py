"""A launcher's profile: what it is, and reading it from a file."""

__all__ = ["drives", "model", "read_profile"]
