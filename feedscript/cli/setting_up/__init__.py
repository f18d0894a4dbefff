"""Commands that find, check and set up launchers."""
