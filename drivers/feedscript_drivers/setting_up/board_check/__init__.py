"""A board that somebody ported the firmware to, tried step by step, its wheels without power."""

__all__: list[str] = []
