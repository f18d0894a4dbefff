"""What the records of a lesson tell."""

__all__ = [
    "export",
    "figures",
    "html",
    "junit",
    "lesson",
    "pictures",
    "words",
]
