"""x"""
from __future__ import annotations
import numpy as np, trimesh
from reach.files.scene import load_scene
from reach.geometry import build, pose_of, rotation_z, rotation_x, transform_points, inverse
from reach.site import frames_of
from reach.solids import tessellation_error, triangles_of
from reach.paths.world import Cargo, Obstacle


def demo():
    loaded = load_scene("brackenfall")
    return loaded
