"""Paths of a bulky payload that keep every clearance, with proof.

Arrays in, arrays out, in metres, one frame for the obstacles (usually world)
and the payload's own for what moves.
"""

from reach.paths.finding import Found, find_path, is_kept
from reach.paths.world import Cargo, Obstacle

__all__ = ["Cargo", "Found", "Obstacle", "find_path", "is_kept"]
