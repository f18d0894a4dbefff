"""Commands that run a lesson."""
