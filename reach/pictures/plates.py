"""All pictures of a report: views alone, packed, with the words that stand beside them."""

from __future__ import annotations

import io
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING

from PIL import Image

from reach.kept.copied import in_copy
from reach.pictures.carries import carries_of
from reach.pictures.moves import moves_of
from reach.pictures.sheet import VIEW, Frame, write_what_if
from reach.pictures.studio import VIEWS, png_of
from reach.pictures.worksite import worksites_of
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


def _worksites(outcome: Outcome) -> Iterator[Made]:
    from reach.pictures.sheet import worksite_frame
    from reach.pictures.shown import shown_of
    from reach.pictures.studio import Studio

    sites = worksites_of(outcome)
    if not sites:
        return
    with Studio(outcome.site) as studio:
        for site in sites:
            frame = worksite_frame(site, shown_of(outcome.site, site.situation))
            for view, sheet in studio.draw(site).items():
                step = site.situation.step
                yield _plate(outcome, site.stem, view, VIEWS[view], step, frame, sheet)


def _moves(outcome: Outcome) -> Iterator[Made]:
    from reach.pictures.move_notes import move_frame
    from reach.pictures.moving import MoveStudio

    moves = moves_of(outcome)
    if not moves:
        return
    with MoveStudio(outcome.site) as studio:
        for move in moves:
            sheet, step = studio.picture(move), move.situation.step
            yield _plate(outcome, move.stem, "move", OVER["move"], step, move_frame(move), sheet)


def _carries(outcome: Outcome) -> Iterator[Made]:
    from reach.pictures.carry_notes import carry_frame
    from reach.pictures.carrying import CarryStudio
    from reach.pictures.curve import curve_frame, curve_picture

    carries = carries_of(outcome)
    if not carries:
        return
    with CarryStudio(outcome.site) as studio:
        for carry in carries:
            step, stem = carry.carriage.step, carry.stem
            sheet = studio.sweep(carry)
            yield _plate(outcome, stem, "sweep", OVER["sweep"], step, carry_frame(carry), sheet)
            sheet = curve_picture(carry)
            yield _plate(outcome, stem, "curve", "", step, curve_frame(carry), sheet)


def _home(outcome: Outcome, returns: Returns) -> Iterator[Made]:
    from reach.pictures.home import HomeStudio, home_frame, scale_of

    with HomeStudio(returns.site) as studio:
        frame = home_frame(returns, *scale_of(returns))
        sheet = studio.minutes(returns)
        yield _plate(outcome, "minutes-home", "home", OVER["home"], "", frame, sheet)


def _crane(outcome: Outcome, answer: CraneAnswer) -> Iterator[Made]:
    from reach.pictures.crane import CraneStudio, crane_frame
    from reach.pictures.worksite import stem_of

    stem = stem_of(1, answer.crane, answer.asked.station)
    with CraneStudio(answer.site) as studio:
        sheet = studio.crane(answer)
        frame = crane_frame(answer, answer.worst)
        yield _plate(outcome, stem, "crane", OVER["crane"], "", frame, sheet)


def _plate(
    outcome: Outcome,
    stem: str,
    kind: str,
    view: str,
    step: str,
    frame: Frame,
    sheet: Image.Image,
) -> Made:
    """Return the view of a sheet, packed, with the words of its frame; and its key."""
    write_what_if(sheet, outcome.what_if)
    left, top, width, height = VIEW
    picture = sheet.crop((left, top, left + width, top + height)).convert("RGB")
    words = frame.words.replace("   |   ", "; ")
    verdict = frame.verdict
    plate = Plate(
        stem, kind, view, step, frame.title, words, frame.drawn, verdict,
        packed(picture, "WEBP"), packed(picture, "JPEG"), *picture.size,
    )  # fmt: skip
    return plate, _key_plate("outside" if kind == "eyes" else kind, frame.key)


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
