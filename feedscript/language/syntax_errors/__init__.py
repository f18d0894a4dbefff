"""What a mistake in the writing most likely is."""
