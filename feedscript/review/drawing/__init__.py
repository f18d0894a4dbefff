"""Pictures of programs and launchers."""
