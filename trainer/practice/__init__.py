"""What comes next: the drill, and a simulated pair of hands."""
