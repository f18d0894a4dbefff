"""Pictures of programs and launchers."""

__all__ = ["drawn_flights", "files", "timeline", "tuning_view"]
