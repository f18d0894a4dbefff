"""How to throw so that a ball lands where it is wished."""
