"""The scenes: each turns its view into a draw list; pure."""
