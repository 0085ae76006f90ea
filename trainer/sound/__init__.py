"""Samples as pure functions of the timeline."""
