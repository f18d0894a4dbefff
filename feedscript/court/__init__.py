"""The court: its lines, its net, and places in words turned into metres."""
