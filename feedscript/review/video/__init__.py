"""Where in a video a ball is found."""

__all__ = ["cues", "sync"]
