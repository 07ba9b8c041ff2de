"""Moves along rails in a scene: the way, the room round it, the line led on it, the way home."""
