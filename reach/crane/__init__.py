"""A crane of a scene as its operator asks about it: how it holds its tip at a pose, how fast it is.

`crane_at` answers for one pose of the tip, with whoever stands there.
"""

from reach.crane.at_rest import Branch, CraneAt, crane_at, crane_of_place
from reach.crane.nearest import Nearest
from reach.crane.rig import Rig, rig_of

__all__ = ["Branch", "CraneAt", "Nearest", "Rig", "crane_at", "crane_of_place", "rig_of"]
