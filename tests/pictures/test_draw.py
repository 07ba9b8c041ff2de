from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from reach.finding import Verdict
from reach.pictures import draw, picture_of, renderer
from reach.pictures.palette import FAIL, PAPER, STRIP, rgb
from reach.pictures.sheet import VIEW, worksite_frame
from reach.pictures.shown import shown_of
from reach.pictures.studio import Studio
from reach.pictures.worksite import worksites_of

pytestmark = pytest.mark.picture


@pytest.fixture(scope="module")
def sites(outcome):
    return {site.situation.step: site for site in worksites_of(outcome)}


def pixels(picture: bytes) -> np.ndarray:
    return np.asarray(Image.open(io.BytesIO(picture)).convert("RGB")).astype(int)


def view_of(image: np.ndarray) -> np.ndarray:
    left, top, width, height = VIEW
    return image[top : top + height, left : left + width]


def n_like(image: np.ndarray, colour: str) -> int:
    return int((np.abs(image - np.array(rgb(colour))).max(axis=-1) < 12).sum())


def n_ochre(image: np.ndarray) -> int:
    """Pixels of the fastener's strong ochre, lit or in shade."""
    r, g, b = np.moveaxis(image.astype(int), -1, 0)
    return int(((r > 110) & (b < 0.35 * r) & (g > 0.5 * r) & (g < 0.8 * r)).sum())


def test_each_worksite_is_drawn_twice_and_no_picture_is_blank(outcome, sites, tmp_path):
    two = [sites["left bolt"].situation, sites["too far"].situation]
    few = type(outcome)(
        **{name: getattr(outcome, name) for name in outcome.__slots__ if name != "situations"},
        situations=tuple(two),
    )
    files = draw(few, tmp_path / "new" / "folder")
    assert [file.name for file in files] == [
        "01-left-bolt-drive-PB1-outside.png",
        "01-left-bolt-drive-PB1-eyes.png",
        "02-too-far-drive-PB4-outside.png",
        "02-too-far-drive-PB4-eyes.png",
    ]
    images = [pixels(file.read_bytes()) for file in files]
    for image in images:
        assert image.shape == (1000, 1600, 3)
        assert view_of(image).std() > 20
    passes, fails = n_like(view_of(images[0]), FAIL), n_like(view_of(images[2]), FAIL)
    assert passes == 0
    assert fails > 2000, "what fails is not marked"
    assert not list((tmp_path / "new" / "folder").glob(".*")), "something half-written is left"


# Layered translucency with multisampling draws nothing translucent, without a word
# (pyvista/pyvista#2592): the envelope must change the picture.
def test_the_envelope_is_seen(outcome, sites, monkeypatch):
    site = sites["left bolt"]
    shown = shown_of(outcome.site, site.situation)
    with Studio(outcome.site) as studio:
        full, camera = studio.bare(site, shown, "outside")
        monkeypatch.setattr("reach.pictures.studio._BUBBLE_BACK", 0.0)
        monkeypatch.setattr("reach.pictures.studio._BUBBLE_FRONT", 0.0)
        without, same = studio.bare(site, shown, "outside")
    assert np.array_equal(camera.position, same.position)
    changed = np.abs(full.astype(int) - without).max(axis=-1) > 8
    assert changed.mean() > 0.02


def test_the_worker_sees_the_fastener_unless_it_is_hidden(outcome, sites):
    with Studio(outcome.site) as studio:
        seen = {}
        for step in ("left bolt", "behind"):
            site = sites[step]
            shown = shown_of(outcome.site, site.situation)
            seen[step] = n_ochre(studio.bare(site, shown, "eyes")[0])
    assert seen["left bolt"] > 60
    assert seen["behind"] == 0


def test_one_picture_can_be_had_as_bytes(outcome, sites):
    picture = picture_of(outcome, sites["behind"].situation, "eyes")
    assert picture.startswith(b"\x89PNG")
    assert pixels(picture).shape == (1000, 1600, 3)


def test_a_picture_says_for_which_variation_it_holds(outcome, sites):
    """A band at the foot of the view, and nothing else of the picture is touched."""
    told = replace(outcome, what_if=("SA blocked",))
    situation = sites["left bolt"].situation
    plain, varied = (pixels(picture_of(one, situation)) for one in (outcome, told))
    rows = np.flatnonzero((plain != varied).any(axis=(1, 2)))
    foot = VIEW[1] + VIEW[3]
    assert (rows.min(), rows.max()) == (foot - 30, foot - 1)
    band = view_of(varied)[-30:]
    assert n_like(band, STRIP) > 0.8 * band.shape[0] * band.shape[1]
    assert n_like(band, PAPER) > 500


def test_an_unknown_view_is_refused(outcome, sites):
    with Studio(outcome.site) as studio, pytest.raises(ValueError, match="no view 'below'"):
        studio.draw(sites["stand"], ("below",))


def test_without_a_renderer_the_package_is_named_and_nothing_is_written(
    outcome, tmp_path, monkeypatch
):
    monkeypatch.setattr(renderer.sys, "platform", "linux")
    monkeypatch.setattr(renderer, "has_library", lambda names: False)
    with pytest.raises(RuntimeError, match=r"libegl1 .* or libosmesa6"):
        draw(outcome, tmp_path / "pictures")
    assert not (tmp_path / "pictures").exists()


def test_osmesa_stands_in_for_egl(monkeypatch):
    monkeypatch.setattr(renderer.sys, "platform", "linux")
    monkeypatch.setattr(renderer, "has_library", lambda names: "OSMesa" in names[0])
    monkeypatch.delenv(renderer.WINDOW, raising=False)
    renderer.choose_window()
    assert renderer.os.environ[renderer.WINDOW] == "vtkOSOpenGLRenderWindow"
    monkeypatch.delenv(renderer.WINDOW)


def test_a_library_that_is_not_there_is_not_found():
    assert not renderer.has_library(("libnothing-of-this-name.so.1",))


def test_the_badge_of_a_picture_is_no_better_than_its_step(outcome, sites):
    """What is wrong with the step and not drawn, such as a hold that fails, must not look green."""
    site = next(one for one in sites.values() if one.verdict is Verdict.PASS)
    shown, step = shown_of(outcome.site, site.situation), site.situation.step
    assert worksite_frame(replace(site, elsewhere=()), shown).verdict is Verdict.PASS
    bad = next(one for one in outcome.findings if one.verdict is Verdict.FAIL)
    wrong = replace(bad, step=step, about=("somebody else",))
    (again,) = (
        one
        for one in worksites_of(replace(outcome, findings=(*outcome.findings, wrong)))
        if one.situation.step == step
    )
    frame = worksite_frame(again, shown)
    assert frame.verdict is Verdict.FAIL
    assert f"Not drawn, of the same step: fail, {bad.check}." in frame.drawn
