"""The one interpreter of a plan: what a run asks for, action by action."""

__all__ = ["actions", "chance", "conditions", "interpret", "players", "runs"]
