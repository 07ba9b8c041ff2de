"""The same arm seen from its tip: what rides there stands still, the base moves."""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from reach.geometry import inverse
from reach.model.arm import Arm, ArmJoint, ArmLink, Floats


def turned_round(arm: Arm) -> Arm:
    """Return an arm with its links in reverse order: the old tip is the base.

    The posture ``q`` of the arm is the posture ``q[::-1]`` of the other: every joint keeps its
    value and its sign.  In these ``base_from_tip`` of one is ``tip_from_base`` of the other.

    Links and joints keep their names and shapes.  A joint turns the link behind it, so link
    frames, but those of the tip and the base, now stand where the joint is that they hang on;
    the base hangs on a link without shapes that is named after it, ``<base> turned``.

    Parameters
    ----------
    arm : Arm

    Examples
    --------
    The certified gap between a crane and what it carries, given in the tip's frame::

        seen = chain_of(turned_round(arm))
        chain_gap(seen, postures[:, ::-1], carried, without={arm.tip})
    """
    # Old link frame -> where the joint towards the tip stands on it; the tip has none.
    stands = [*(joint.parent_from_joint for joint in arm.joints), np.eye(4)]
    links = [_moved(link, inverse(at)) for link, at in zip(arm.links, stands, strict=True)]
    joints = [
        replace(joint, parent_from_joint=inverse(stands[n + 1]), axis=-joint.axis)
        for n, joint in enumerate(arm.joints)
    ]
    holder = ArmLink(f"{arm.base} turned")
    mount = ArmJoint(holder.name, "fixed", inverse(stands[0]), np.array([1.0, 0.0, 0.0]))
    return replace(
        arm,
        links=(*links[:0:-1], holder, arm.links[0]),
        joints=(*joints[::-1], mount),
    )


def _moved(link: ArmLink, moved_from_link: Floats) -> ArmLink:
    shapes = tuple(
        replace(shape, link_from_shape=moved_from_link @ shape.link_from_shape)
        for shape in link.shapes
    )
    return replace(link, shapes=shapes)
