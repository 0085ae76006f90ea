"""What was heard: from the sound of a banjo to strokes with their times, strings and loudness."""
