"""Expectations: what a program says of itself, held against its plan."""

__all__ = ["draws", "evaluation", "outcome", "score_interval", "sent", "shares"]
