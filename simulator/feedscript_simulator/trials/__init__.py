"""Named faults carried out at the stand-in, and what it saw of itself."""
