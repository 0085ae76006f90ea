"""One controller a scene: what runs it, and gives its view."""
