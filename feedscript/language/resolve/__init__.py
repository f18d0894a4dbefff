"""Syntax tree to program: names looked up, values worked out."""

__all__ = [
    "declarations",
    "dimensions",
    "files",
    "findings",
    "loading",
    "places",
    "program_pages",
    "properties",
    "scope",
    "values",
]
