"""A standing attack: seeded generators for everything that comes from outside, and what may come of it."""
