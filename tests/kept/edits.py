"""Random edits of the steps of a procedure, such as a planner makes."""

import copy


def edited(rng, steps, edits):
    """Return the steps after one edit, and its name; edits that change nothing are made too.

    Parameters
    ----------
    rng : random.Random
    steps : sequence of dict
    edits : sequence of callables (rng, steps) that change a list of steps in place
    """
    steps = copy.deepcopy(list(steps))
    edit = rng.choice(edits)
    edit(rng, steps)
    return tuple(steps), edit.__name__


def other_start(rng, steps):
    step = rng.choice(steps)
    step["start"] = rng.choice([None, 0.0, step.get("start") or 0.0, 150.0, 800.0, 2000.0])


def other_duration(rng, steps):
    rng.choice(steps)["duration"] = rng.choice([None, 60.0, 100.0, 400.0])


def other_name(rng, steps):
    rng.choice(steps)["name"] += "'"


def taken_out(rng, steps):
    if len(steps) > 4:
        steps.remove(rng.choice(steps))


def put_twice(rng, steps):
    step = copy.deepcopy(rng.choice(steps))
    step["name"] += " again"
    if step["name"] not in [one["name"] for one in steps] and len(steps) < 14:
        steps.insert(rng.randrange(len(steps) + 1), step)


def swapped(rng, steps):
    k = rng.randrange(len(steps) - 1)
    steps[k], steps[k + 1] = steps[k + 1], steps[k]


def other_fastener(rng, steps):
    step = rng.choice(steps)
    for action in step["actions"]:
        if "fastener" in action:
            action["fastener"] = rng.choice(["easy", "far", "low", "behind"])


def other_hand(rng, steps):
    for action in rng.choice(steps)["actions"]:
        if action["do"] == "drive":
            action["hand"] = rng.choice(["own", "either", "both"])


def other_torque(rng, steps):
    for action in rng.choice(steps)["actions"]:
        if action["do"] == "drive":
            action["torque"] = rng.choice([5.0, 20.0, 90.0])


def other_setting(rng, steps):
    step = rng.choice(steps)
    if step.get("setting"):
        step["setting"] = {**step["setting"], "yaw": rng.choice([0.0, 1.0471975511965976])}


def other_station(rng, steps):
    step = rng.choice(steps)
    station = rng.choice(["near", "by the mast", "too far"])
    if step.get("where") and not step.get("setting"):
        step["where"] = station
    for action in step["actions"]:
        if action["do"] == "move crane" and "to" in action:
            action["to"] = station


def other_end(rng, steps):
    for action in rng.choice(steps)["actions"]:
        if action["do"] == "translate":
            action["to"] = rng.choice(["R1@0.2", "R1@0.9", "hatch"])


def other_lane(rng, steps):
    step = rng.choice(steps)
    if step["lane"] != "CO":
        step["lane"] = rng.choice(["R", "L"])


def left_blank(rng, steps):
    step = rng.choice(steps)
    if step.get("path"):
        step["path"] = None
        step["actions"][0]["to"] = "right"


EVERY = (
    other_start, other_duration, other_name, taken_out, put_twice, swapped, other_fastener,
    other_hand, other_torque, other_setting, other_station, other_end, other_lane, left_blank,
)  # fmt: skip
