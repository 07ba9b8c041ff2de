"""What is moved past structure and people: its parts, the gaps they keep, and the curve of them."""
