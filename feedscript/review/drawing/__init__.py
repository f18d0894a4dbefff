"""Pictures of programs and launchers."""

__all__ = ["drawn_flights", "files", "tuning_view"]
