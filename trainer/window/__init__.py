"""What the window holds between the painter and the devices: its state, its wishes, its views."""
