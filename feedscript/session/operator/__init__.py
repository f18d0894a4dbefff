"""What a person commands and sees, the same for every screen."""
