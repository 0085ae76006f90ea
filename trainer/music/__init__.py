"""What is to be played: strokes, patterns, their text, tunings, and when each stroke falls."""
