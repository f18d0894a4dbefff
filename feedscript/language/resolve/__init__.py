"""Syntax tree to program: names looked up, values worked out."""

__all__ = [
    "declarations",
    "dimensions",
    "feed_lines",
    "files",
    "findings",
    "loading",
    "places",
    "program_pages",
    "properties",
    "read_program",
    "scope",
    "values",
]
