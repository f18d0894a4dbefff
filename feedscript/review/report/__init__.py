"""What the records of a lesson tell."""

__all__ = [
    "export",
    "html",
    "junit",
    "lesson",
    "pictures",
    "words",
]
