"""Trunks, arms and cages of boxes that are planted, so that an answer is known to exist."""

import numpy as np
from twin import torso_of

from reach.worker.figure import TRUNK

CORNERS = np.array([[x, y, z] for x in (-1, 1) for y in (-1, 1) for z in (-1, 1)], float) / 2
QUADS = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
FACES = [face for a, b, c, d in QUADS for face in ((a, b, c), (a, c, d))]


def ranges(figure):
    """Lowest and highest trunk angles, rad."""
    return np.array([getattr(figure.suit, name) for name in TRUNK]).T


def random_trunk(figure, rng, over=1.4):
    """A trunk inside its limits, often at one of them."""
    low, high = ranges(figure)
    u = np.clip(over * rng.uniform(-1, 1, 5), -1, 1)
    return np.where(u < 0, -u * low, u * high)


def random_rotation(rng):
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    return q if np.linalg.det(q) > 0 else -q


def box(rng, at, size):
    """Triangles of a turned box."""
    corners = (CORNERS * size) @ random_rotation(rng).T + at
    return corners[np.array(FACES)]


def plate(at, normal, width):
    """Triangles of a thin square plate."""
    u = np.cross(normal, np.eye(3)[np.argmin(np.abs(normal))])
    u /= np.linalg.norm(u)
    axes = np.stack([u, np.cross(normal, u), normal], axis=1)
    return ((CORNERS * [width, width, 0.02]) @ axes.T + at)[np.array(FACES)]


def body_points(figure, bulk, q):
    """Capsules of legs and shells from the suit and the slow twin, (n, 7), boot frame."""
    suit, k = figure.suit, figure.body.links
    hip, torso, _ = torso_of(figure, q)
    rows = []
    for side in (suit.stance / 2, -suit.stance / 2):
        foot = [0.0, side, suit.boot_height + suit.leg_radius]
        rows.append([*foot, *(hip + side * torso[:, 1]), suit.leg_radius])
    for shell in suit.torso.values():
        up = np.array([0.0, 0.0, k.shoulder - k.hip if shell.above == "shoulders" else 0.0])
        ends = [hip + torso @ (np.array(end) + up) for end in (shell.start, shell.end)]
        rows.append([*ends[0], *ends[1], shell.radius])
    assert len(rows) == bulk.n_body
    return np.array(rows)


def eye_point(figure, q):
    """The eye from the suit and the slow twin, boot frame."""
    suit, links = figure.suit, figure.body.links
    up = suit.eye_above_shoulders
    up = links.eye - links.shoulder if up is None else up
    hip, torso, _ = torso_of(figure, q)
    return hip + torso @ np.array([suit.eye_ahead, 0.0, links.shoulder - links.hip + up])
