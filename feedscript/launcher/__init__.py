"""Launchers: the profile, its kinematics and scatter, and the port every launcher answers to."""
