"""What the records of a lesson tell."""

__all__ = [
    "export",
    "figures",
    "goals",
    "html",
    "junit",
    "lesson",
    "pictures",
    "words",
]
