"""What carries the simulated launcher's bytes."""
