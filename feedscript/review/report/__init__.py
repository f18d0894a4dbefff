"""What the records of a lesson tell."""

__all__ = [
    "attendance",
    "exercises",
    "export",
    "html",
    "junit",
    "lesson",
    "paper",
    "pictures",
    "waiting",
    "words",
]
