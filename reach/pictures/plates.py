"""All pictures of a report: views alone, packed, with the words that stand beside them."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from reach.kept.copied import in_copy
from reach.pictures.carries import carries_of
from reach.pictures.moves import moves_of
from reach.pictures.sheet import VIEW, Frame, with_step, write_what_if
from reach.pictures.studio import VIEWS, png_of, views_of
from reach.pictures.worksite import Worksite, elsewhere, worksites_of
from reach.reports.page.plates import KeyPlate, Plate

if TYPE_CHECKING:
    from reach.cranes import CraneAnswer
    from reach.returns import Returns
    from reach.run import Outcome, Say

WEBP, JPEG = 78, 74
"""How well pictures are kept, of 100: lettering of 12 px stays clean at these."""

OVER = {"move": "two sides", "sweep": "two sides", "home": "two sides", "crane": "two sides"}


@dataclass(frozen=True, slots=True)
class Plates:
    """The pictures of a report and the keys to them, one for each kind that is there."""

    plates: tuple[Plate, ...]
    keys: tuple[KeyPlate, ...]


def plates_of(
    outcome: Outcome,
    returns: Returns | None = None,
    cranes: tuple[CraneAnswer, ...] = (),
    say: Say | None = None,
    meanwhile: Callable[[], None] | None = None,
) -> Plates:
    """Draw all that a report shows.

    Parameters
    ----------
    outcome : Outcome
    returns : Returns, optional
        For the map of minutes home.
    cranes : tuple of CraneAnswer
    say : callable, optional
        Told (done, total, words) as the work goes on.
    meanwhile : callable, optional
        Done here while the other process still draws worksites, which take longer.

    Raises
    ------
    RuntimeError
        If there is no off-screen renderer; the message names the package that brings one.
    """
    n = len(moves_of(outcome)) + 2 * len(carries_of(outcome)) + len(cranes)
    n += returns is not None
    # Worksites in a copy of this process, all else here: before anything is drawn.
    with in_copy(lambda: _packed(_worksites(outcome))) as others:
        mine: list[Made] = []
        for one in _others(outcome, returns, cranes):
            mine.append(one)
            if say:
                say(len(mine), n, f"drawing {one[0].title}")
        if meanwhile:
            meanwhile()
        if say:
            say(n, n, "drawing worksites")
        every = [*others(), *mine]
    keys: dict[str, KeyPlate] = {}
    for _, key in every:
        if key.kind not in keys or len(key.words) > len(keys[key.kind].words):
            keys[key.kind] = key
    return Plates(tuple(plate for plate, _ in every), tuple(keys.values()))


Made = tuple[Plate, KeyPlate]


def _packed(some: Iterator[Made]) -> list[Made]:
    return list(some)


def _others(
    outcome: Outcome, returns: Returns | None, cranes: tuple[CraneAnswer, ...]
) -> Iterator[Made]:
    yield from _moves(outcome)
    yield from _carries(outcome)
    if returns is not None:
        yield from _home(outcome, returns)
    for answer in cranes:
        yield from _crane(outcome, answer)


SMALL = (900, 650)
"""Of pictures that stand side by side, px: 270 to the inch on A4."""

LETTERING = 1.4
"""Letters in them are so much larger: read in print, 88 mm wide."""


def _worksites(outcome: Outcome) -> Iterator[Made]:
    """Yield two views of each worksite: from outside, and from the eyes of whoever looks at work.

    Who stands at rest looks at nothing in particular: they are seen from another side instead.
    """
    from reach.pictures.sheet import worksite_frame
    from reach.pictures.shown import shown_of
    from reach.pictures.studio import Studio

    groups = alike(worksites_of(outcome))
    if not groups:
        return
    with Studio(outcome.site, SMALL, LETTERING) as studio:
        for group in groups:
            first = group[0]
            shown = shown_of(outcome.site, first.situation)
            frame = worksite_frame(first, shown)
            in_order = sorted(group, key=lambda one: one.number)
            steps = tuple(dict.fromkeys(one.situation.step for one in in_order))
            if len(group) > 1:
                said = "; ".join(dict.fromkeys(one.action for one in in_order))
                word = "Step" if len(steps) == 1 else "Steps"
                frame = replace(frame, title=f"{word} {', '.join(steps)}: {said}")
            for view in views_of(first):
                picture = studio.view(first, shown, view)
                plate, key = _plate(outcome, first.stem, view, VIEWS[view], steps, frame, picture)
                yield replace(plate, stands_for=tuple(one.stem for one in group[1:])), key


def alike(sites: Sequence[Worksite]) -> list[tuple[Worksite, ...]]:
    """Return worksites gathered by what would look the same: one body at rest in one place.

    The one in which the hands do most stands first: its grips are named.
    """
    groups: dict[tuple[object, ...], list[Worksite]] = {}
    for site in sites:
        one = site.situation
        assert one.place is not None
        assert one.place.world_from_boots is not None
        key: tuple[object, ...] = (site.number,)
        if one.head is None:
            boots = np.round(one.place.world_from_boots, 4).tobytes()
            key = (one.worker, one.case, boots, id(one.surroundings))
        groups.setdefault(key, []).append(site)

    def n_grips(site: Worksite) -> int:
        return len(getattr(site.situation.action, "grips", None) or ())

    return [tuple(sorted(group, key=n_grips, reverse=True)) for group in groups.values()]


def _moves(outcome: Outcome) -> Iterator[Made]:
    from reach.pictures.move_notes import move_frame
    from reach.pictures.moving import MoveStudio

    moves = moves_of(outcome)
    if not moves:
        return
    with MoveStudio(outcome.site) as studio:
        for move in moves:
            view, steps = _view_of(studio.picture(move)), (move.situation.step,)
            yield _plate(outcome, move.stem, "move", OVER["move"], steps, move_frame(move), view)


def _carries(outcome: Outcome) -> Iterator[Made]:
    from reach.pictures.carry_notes import carry_frame
    from reach.pictures.carrying import CarryStudio
    from reach.pictures.curve import curve_frame, curve_picture

    carries = carries_of(outcome)
    if not carries:
        return
    with CarryStudio(outcome.site) as studio:
        for carry in carries:
            steps, stem = (carry.carriage.step,), carry.stem
            view = _view_of(studio.sweep(carry))
            yield _plate(outcome, stem, "sweep", OVER["sweep"], steps, carry_frame(carry), view)
            view = _view_of(curve_picture(carry))
            yield _plate(outcome, stem, "curve", "", steps, curve_frame(carry), view)


def _home(outcome: Outcome, returns: Returns) -> Iterator[Made]:
    from reach.pictures.home import HomeStudio, home_frame, scale_of

    with HomeStudio(returns.site) as studio:
        frame = home_frame(returns, *scale_of(returns))
        view = _view_of(studio.minutes(returns))
        yield _plate(outcome, "minutes-home", "home", OVER["home"], (), frame, view)


def _crane(outcome: Outcome, answer: CraneAnswer) -> Iterator[Made]:
    from reach.pictures.crane import CraneStudio, crane_frame
    from reach.pictures.worksite import stem_of

    stem = stem_of(1, answer.crane, answer.asked.station)
    with CraneStudio(answer.site) as studio:
        view = _view_of(studio.crane(answer))
        frame = crane_frame(answer, answer.worst)
        yield _plate(outcome, stem, "crane", OVER["crane"], (), frame, view)


def _view_of(sheet: Image.Image) -> Image.Image:
    """Return the view alone of a sheet."""
    left, top, width, height = VIEW
    return sheet.crop((left, top, left + width, top + height))


def _plate(
    outcome: Outcome,
    stem: str,
    kind: str,
    view: str,
    steps: tuple[str, ...],
    frame: Frame,
    picture: Image.Image,
) -> Made:
    """Return a view, packed, with the words of its frame; and its key.

    Its verdict is never better than that of its steps: what is wrong with them may not be drawn.
    """
    write_what_if(picture, outcome.what_if, (0, 0, *picture.size))
    picture = picture.convert("RGB")
    words = frame.words.replace("   |   ", "; ")
    frame = with_step(frame, [bad for s in steps for bad in elsewhere(outcome.findings, s, ())])
    plate = Plate(
        stem, kind, view, steps, frame.title, words, frame.drawn, frame.verdict,
        packed(picture, "WEBP"), packed(picture, "JPEG"), *picture.size,
    )  # fmt: skip
    return plate, _key_plate("outside" if kind in ("eyes", "side") else kind, frame.key)


def packed(picture: Image.Image, form: str) -> bytes:
    """Return a picture as the bytes of a WebP or JPEG file."""
    buffer = io.BytesIO()
    if form == "WEBP":
        picture.save(buffer, form, quality=WEBP, method=2)
    else:
        picture.save(buffer, form, quality=JPEG, subsampling=0)
    return buffer.getvalue()


def _key_plate(kind: str, key: Image.Image) -> KeyPlate:
    words = tuple(key.info.get("words", ()))
    return KeyPlate(kind, words, png_of(key.convert("RGB").quantize(64)), *key.size)
