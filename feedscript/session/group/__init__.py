"""The people on court: who is on, whose turn is next, what each ball became."""

__all__ = ["goals", "questions", "rotation"]
