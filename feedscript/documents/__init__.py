"""What every document is made of: a schema for programs, a page for people."""

__all__ = ["shipped"]
