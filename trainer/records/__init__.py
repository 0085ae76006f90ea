"""What is kept on disk: the pattern library, settings, takes (impure)."""
