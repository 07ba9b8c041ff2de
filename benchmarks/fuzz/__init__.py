"""Broken input by the thousand: nothing but a plain message may come of it."""
