"""What carries the wire's bytes."""
