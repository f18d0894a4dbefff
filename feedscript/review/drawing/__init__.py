"""Pictures of programs and launchers."""

__all__ = ["axes", "drawn_flights", "files", "palette", "svg", "timeline", "tuning_view"]
