"""Launchers: the profile, its kinematics and scatter, and the port every launcher answers to."""

__all__ = [
    "able",
    "battery",
    "change",
    "discovery",
    "envelope",
    "fault_log",
    "faults",
    "guarantees",
    "kinematics",
    "port",
    "scatter",
    "setting",
    "steps",
    "sweep",
    "throw",
    "tools",
    "wheels",
]
