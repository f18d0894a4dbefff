"""What the coach's hand decides while the lesson runs: balls on request, the end at the hour."""

__all__: list[str] = []
