"""People who hold a payload: postures with both hands on grips, margins, the body that results.

`grasped_of` says how a worker of a situation holds one or two grips, `body_of` what room the
body takes up while it does, or at rest.
"""

from reach.grasping.bodies import body_of

__all__ = ["body_of"]
