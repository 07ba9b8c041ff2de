"""Limit values that checks measure against: data with a source, never constants in code."""

from __future__ import annotations

from pydantic import Field

from reach.model.provenance import Provenance
from reach.model.record import Record
from reach.units import SI, quantity

LIMITS: dict[str, tuple[str, str]] = {
    "reach_margin": ("length", "how far a target must lie inside the reach"),
    "axis_tolerance": ("angle", "tool axis off the fastener axis, at most"),
    "body_clearance": ("length", "helmet, backpack, trunk and legs to structure, at least"),
    "arm_clearance": ("length", "arms and hand tool to structure, at least"),
    "hand_clearance": ("length", "gloved hand to structure, at least"),
    "inner_margin": ("length", "how far a target must lie outside the too-near region"),
    "access_gap": ("length", "gap round bit and shaft when they come on along the axis, at least"),
    "visible_share": ("ratio", "share of the fastener head seen, at least"),
    "sight_angle": ("angle", "line of sight off the fastener axis, at most"),
    "effort_sustained": ("ratio", "share of a joint's strength that a held force takes, at most"),
    "effort_peak": ("ratio", "share of a joint's strength taken at the peak, at most"),
    "shoulder_strength_female": ("torque", "largest moment a woman's shoulder holds"),
    "elbow_strength_female": ("torque", "largest moment a woman's elbow holds"),
    "wrist_strength_female": ("torque", "largest moment a woman's wrist holds"),
    "hand_strength_female": ("force", "largest force a woman's bare hand holds"),
    "shoulder_strength_male": ("torque", "largest moment a man's shoulder holds"),
    "elbow_strength_male": ("torque", "largest moment a man's elbow holds"),
    "wrist_strength_male": ("torque", "largest moment a man's wrist holds"),
    "hand_strength_male": ("force", "largest force a man's bare hand holds"),
    "worst_error": ("length", "reach left in the worst case of position errors, at least"),
    "reach_probability": ("ratio", "probability of reach under position errors, at least"),
    "grip_tolerance": ("angle", "hand off the direction of the rail it holds, at most"),
    "socket_force": ("force", "force on a socket that gives no rating, at most"),
    "socket_moment": ("torque", "moment on a socket that gives no rating, at most"),
    "handling_force": ("force", "push on a thing that says nothing of its own, at most"),
    "connector_torque": ("torque", "torque on a connector that says nothing of its own, at most"),
    "population_share": ("ratio", "share of a drawn population that can do it, at least"),
    "head_radius": ("length", "radius of a fastener head where the scene gives none"),
    "rail_gap": ("length", "from one rail to the next, at most"),
    "place_span": ("length", "from a place of work, an anchor or a hatch to a rail, at most"),
    "bulky_items": ("ratio", "bulky items that hang on one worker, at most"),
    "restraints_carried": ("ratio", "restraints that hang on one worker, at most"),
    "setting_time": ("time", "setting one restraint anew"),
    "at_hand": ("length", "from where somebody is to what is at hand there, at most"),
    "grip_width": ("length", "length of rail that a gloved hand takes up"),
    "lead_bend": ("ratio", "bend radius of a lead over its diameter, at least"),
    "hang_back": ("length", "from the shoulders back to where what is carried hangs"),
    "hold_reach": ("length", "from a rail to the middle of the body that holds it, at most"),
    "hands_free": ("ratio", "hands that hold nothing while moving along rails, at least"),
    "crew_load": ("force", "what a rail that gives a rating must bear of a person"),
    "corridor_radius": ("length", "radius of the free tube along a route, at least"),
    "kick_band": ("length", "how far from a route or a place of work a boot may kick"),
    "kick_load": ("force", "kick of a boot that things within the kick band must bear"),
    "edge_gap": ("length", "gloved hand and line to a sharp edge, at least"),
    "pace_free": ("speed", "pace along rails with nothing bulky"),
    "pace_loaded": ("speed", "pace along rails with something bulky"),
    "tether_slack": ("length", "length of a safety line that is not used, at least"),
    "tether_load": ("force", "pull on an anchor, at most"),
    "return_time": ("time", "bringing someone who cannot move back into the lock, at most"),
    "casualty_pace": ("speed", "pace of someone who brings another along rails"),
    "partner_pace": ("speed", "pace of someone who hurries to another along rails"),
    "leave_restraint": ("time", "the partner leaves a restraint"),
    "free_casualty": ("time", "the partner frees someone from restraint and local lines"),
    "swap_time": ("time", "one swap of a safety line on the way home"),
    "swaps": ("ratio", "swaps on the way home where the lines worn are not known"),
    "lock_time": ("time", "from the hatch until both are in and it is closed"),
    "companion_distance": ("length", "along rails from one worker to the other, at most"),
    "payload_clearance": (
        "length",
        "a moving payload and who rides with it to structure, at least",
    ),
    "link_clearance": ("length", "the links of a crane to structure and to what it carries"),
    "crane_reserve": ("ratio", "share of a crane's full reach that is not used, at least"),
    "joint_reserve": ("angle", "every joint of a crane from the end of its range, at least"),
    "singular_reserve": ("ratio", "how far a crane's posture is from a singular one, at least"),
    "worker_distance": ("length", "moving payload or crane to a worker who does not hold it"),
    "helmet_distance": ("length", "helmet to helmet of two workers, at least"),
    "approach_speed": ("speed", "a payload that comes to its seat, at most"),
    "stop_distance": ("length", "over which hands bring a payload to rest"),
    "stop_time": ("time", "in which a crane comes to rest when stop is called"),
    "rider_mass": ("mass", "a suited worker who rides on a crane's tip"),
    "hand_offset": ("length", "how far off its place hands keep a payload that they align"),
    "hand_angle": ("angle", "by how much it is askew in their hands"),
    "watched_gap": ("length", "a gap that matters: nearer than this someone must see it"),
    "unseen_stretch": ("length", "of a payload's way on which such a gap is not seen, at most"),
    "outing_time": ("time", "from the begin of an outing until the hatch is closed, at most"),
    "glove_check": ("time", "from one check of somebody's gloves to the next, at most"),
    "idle_time": ("time", "all workers wait at once for longer than this: it is told"),
    "hand_stretch": ("time", "hands work without a rest, at most"),
    "hand_rest": ("time", "a rest for the hands, at least"),
    "terminate_time": ("time", "from the call to stop until everyone is in the lock, at most"),
    "safe_time": ("time", "how long what is left when work stops must stay safe, at least"),
    "touch_hot": ("temperature", "of what a glove holds, at most"),
    "touch_cold": ("temperature", "of what a glove holds, at least"),
    "hot_structure": ("temperature", "structure hotter than this is kept away from"),
    "hot_distance": ("length", "from work to hot structure, at least"),
    "hot_stay": ("time", "work near hot structure, at most"),
    "near_structure": ("length", "work within this of hot structure is near it"),
    "egress_time": ("time", "somebody comes out of the lock"),
    "ingress_time": ("time", "somebody goes into the lock"),
    "restraint_time": ("time", "boots go into a restraint"),
    "attach_time": ("time", "one end of a line or tether is hooked on, or let go"),
    "hold_time": ("time", "hands take hold of grips, or let go"),
    "hand_over_time": ("time", "a load goes from hands to hands"),
    "item_time": ("time", "one item is taken, stowed or passed"),
    "install_time": ("time", "a restraint is plugged in or taken out"),
    "tool_setting_time": ("time", "a tool is set"),
    "lay_time": ("time", "a lead is laid, without its clamps"),
    "confirm_time": ("time", "something is called and confirmed"),
    "glove_check_time": ("time", "gloves are looked at"),
    "inspect_time": ("time", "one thing is looked at"),
    "mate_time": ("time", "a connector is mated or demated"),
    "align_time": ("time", "hands bring a payload into a guide"),
    "tool_time": ("time", "a tool is brought onto a fastener and taken off"),
    "turn_time": ("time", "one turn with a power tool"),
    "hand_turn_time": ("time", "one turn by hand, ratchet or wrench"),
}
"""Limit name -> kind of quantity and meaning."""


ABOVE_ZERO = (
    "rail_gap",
    "place_span",
    "corridor_radius",
    "hold_reach",
    "pace_free",
    "pace_loaded",
    "casualty_pace",
    "partner_pace",
    "stop_distance",
    "stop_time",
)
"""Limits that must be greater than zero: others are divided by them, or nothing could be held."""


class Limit(Record):
    """One limit: SI value with its provenance."""

    value: float
    unit: str
    source: Provenance = Field(default_factory=Provenance)


class WrittenLimit(Provenance):
    """One limit as files hold it: a value with or without a unit, and where it comes from."""

    value: float | str = Field(description="SI number or text with a unit")


def limit_of(name: str, written: WrittenLimit) -> Limit:
    """Return a written limit in SI.

    Raises
    ------
    ValueError
        If the value is not of the limit's kind or is negative.

    Examples
    --------
    >>> limit_of("body_clearance", WrittenLimit(value="1 in")).value
    0.0254
    """
    kind, _ = LIMITS[name]
    value = quantity(written.value, kind)
    if value < 0.0:
        raise ValueError(f"must not be negative, found {written.value!r}")
    if value == 0.0 and name in ABOVE_ZERO:
        raise ValueError(f"must be greater than zero, found {written.value!r}")
    fields = {key: getattr(written, key) for key in Provenance.model_fields}
    return Limit(value=value, unit=SI[kind], source=Provenance(**fields))
