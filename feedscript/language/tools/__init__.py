"""The formatter, and the pages made from the language's sources."""

__all__ = ["formatter", "library_page"]
