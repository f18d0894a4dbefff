"""From a program to a plan: every feed aimed, every bound known."""

__all__ = [
    "beyond_model",
    "bodies",
    "canonical",
    "certificate",
    "compile",
    "goals",
    "model",
    "never_holds",
    "places",
    "scene",
    "times",
    "within_reach",
]
