"""The languages in which lessons are shown, spoken and told."""

__all__ = ["terms", "text", "tongue"]
