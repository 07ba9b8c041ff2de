"""Two versions of a scene or a procedure: what was edited, what flipped, and which edit did it."""
