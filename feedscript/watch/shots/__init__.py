"""What players make of fed balls: the ball's way back, from the racket to the net or the ground."""

__all__ = ["ground", "watcher"]
