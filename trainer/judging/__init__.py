"""How it was played: pairing taps with strokes, statistics, verdicts."""
