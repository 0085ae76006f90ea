"""What is seen: scenes (pure) and the painter (impure)."""
