"""A setting for a place where a worker only stands: nothing is turned from there.

The setting that other steps need at the same place comes first, so that the restraint need not be
set anew; else any setting is taken by which the checks pass.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from reach.placing import shown
from reach.plan.grid import Candidate
from reach.plan.settings import distinct_poses, scattered
from reach.settings.choose import findings_at, lacks_of
from reach.site import Site, Situation

MOST_TRIED = 48
"""Settings put to the checks before the search is given up."""


def standing_setting(
    site: Site, situations: Sequence[Situation], needed: Iterable[Candidate]
) -> tuple[Candidate | None, str]:
    """Return a setting for what is done at a place, and words about it.

    Parameters
    ----------
    site : Site
    situations : sequence of Situation
        Everything asked of the blank steps there, at one socket in one restraint.
    needed : iterable of Candidate
        Settings that other steps need at this place, the nearest step first.

    Returns
    -------
    candidate : Candidate or None
        None where no setting was found by which everything passes, nor one is needed.
    words : str
    """
    place = situations[0].place
    assert place is not None
    others = list({one.words: one for one in needed}.values())
    for one in others:
        if not _lacking(site, situations, one):
            return one, f"{one.words}, as other steps need it there"
    angles, _ = distinct_poses(site, place.restraint)
    straight = min(range(len(angles)), key=lambda i: sum(map(abs, angles[i].values())))
    order = [straight, *scattered(len(angles))[:MOST_TRIED].tolist()]
    for i in order:
        one = Candidate(place.name, angles[i], shown(place.restraint, angles[i]))
        if not _lacking(site, situations, one):
            return one, f"{one.words}, by which getting in passes"
    if others:
        lacks = _lacking(site, situations, others[0])
        return others[0], f"{others[0].words}, as other steps need it there; {lacks}"
    return None, f"no setting was found by which getting in passes ({len(set(order))} tried)"


def _lacking(site: Site, situations: Sequence[Situation], one: Candidate) -> str:
    """Return what does not pass at a setting, in words; empty where everything does."""
    place = situations[0].place
    assert place is not None
    return lacks_of(findings_at(site, situations, place.restraint_name, one))
