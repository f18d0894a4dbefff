"""From what might be the ball to its flight: where it landed, and how surely, or why not."""

__all__: list[str] = []
