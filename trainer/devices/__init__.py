"""The outside world: clock, speaker, MIDI ports, keys (impure)."""
