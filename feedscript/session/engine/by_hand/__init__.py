"""What the coach's hand decides while the lesson runs: balls on request."""

__all__: list[str] = []
