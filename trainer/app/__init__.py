"""The window: its loop, what happens in it, and what joins the picture to the devices and the records."""
