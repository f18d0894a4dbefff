"""A ball in the air: air, forces, motion, bounce and aiming."""
