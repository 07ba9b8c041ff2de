"""The first answer to a change: posture, bound and joint limits, before the checks are through."""

from __future__ import annotations

import math
from dataclasses import dataclass

from reach.checks.wording import best_attempt
from reach.files.people import load_population
from reach.files.scene import LoadedScene
from reach.finding import Finding, Verdict
from reach.model.procedure import Drive
from reach.pictures.shown import Shown, shown_of
from reach.reports.margin import margin_text
from reach.site import Site, Situation
from reach.situations import resolve
from reach.viewer.trial import Trial, asked_of
from reach.work import Attempt


@dataclass(frozen=True, eq=False, slots=True)
class Quick:
    """What is known at once of a trial.

    Attributes
    ----------
    site : Site
    situation : Situation
    shown : Shown or None
        How the worker is drawn; None where the boots are nowhere.
    verdict : Verdict
        Of reach alone: a fail is the outer bound's proof, a pass a posture within joint limits.
    margin, words : str
    """

    site: Site
    situation: Situation
    shown: Shown | None
    verdict: Verdict
    margin: str
    words: str


def quick_answer(loaded: LoadedScene, trial: Trial) -> Quick:
    """Return posture and reach of a trial by bound and joint limits.

    Raises
    ------
    InputError
        With everything that does not fit the scene.
    """
    asked = asked_of(loaded, trial)
    site, situations = resolve(
        loaded.scene,
        loaded.meshes,
        asked.procedure,
        load_population,
        trial.sizes,
        None,
        loaded.arms,
    )
    situation = situations[0]
    place = situation.place
    if place is None or place.world_from_boots is None:
        words = "The setting of the restraint is blank: nobody stands there yet."
        return Quick(site, situation, None, Verdict.OPEN, "not known", words)
    shown = shown_of(site, situation)
    if not isinstance(situation.action, Drive):
        return Quick(site, situation, shown, Verdict.NOT_ASKED, "not asked", "Nothing is turned.")
    limit = site.limit("reach_margin").value
    verdict, margin, words = _reach_of(best_attempt(site, situation), limit)
    return Quick(site, situation, shown, verdict, margin, words)


def _reach_of(attempt: Attempt, limit: float) -> tuple[Verdict, str, str]:
    """Return verdict, margin and words of reach, as its check measures it for one hand."""
    if attempt.short > 0.0:
        margin = margin_text(-math.inf, -attempt.short - limit, "m")
        return Verdict.FAIL, margin, "Out of reach: the outer bound proves it."
    if not attempt.in_envelope:
        return Verdict.OPEN, "margin unknown", "No posture found within joint limits."
    found = attempt.margin
    low = max(0.0, found.radius - found.within) - limit
    high = max(found.radius + found.within, found.ceiling) - limit
    if attempt.witness is None:
        margin = margin_text(-math.inf, max(high, 0.0), "m")
        words = "Joint limits allow it; no posture found that is also clear and sees the head."
        return Verdict.OPEN, margin, words
    words = "A posture was found that reaches, is clear and sees the head."
    return _verdict(low, high), margin_text(low, high, "m"), words


def _verdict(low: float, high: float) -> Verdict:
    return Finding("reach", "", (), "", ".", low, high, "m").verdict
