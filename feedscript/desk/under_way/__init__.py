"""What follows the hand while something is moved or slid: balls that are only tried."""
