"""Pictures of programs and launchers."""

__all__ = ["files", "tuning_view"]
