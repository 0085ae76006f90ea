"""The scenes: each a pure function of a view to what is painted, clicked and pressed."""
