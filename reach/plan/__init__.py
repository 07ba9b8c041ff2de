"""Planners: they look for what a step leaves blank or could do instead; checks judge it."""
