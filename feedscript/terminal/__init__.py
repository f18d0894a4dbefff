"""A lesson at a terminal: the same by keys as the court-side page by taps."""

__all__ = ["line_writer", "rehearsal_report", "run", "run_lesson"]
