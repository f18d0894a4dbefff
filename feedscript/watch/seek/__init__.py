"""One feed's ball looked for in the pictures: along its predicted track, and what might be it."""

__all__: list[str] = []
