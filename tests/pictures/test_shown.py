from __future__ import annotations

import dataclasses

import numpy as np
import pytest

from reach.finding import Verdict
from reach.geometry import transform_points
from reach.pictures.camera import eyes_camera, outside_camera, subject_of
from reach.pictures.envelope import known_envelope
from reach.pictures.notes import hidden_by, outside_notes, sharp_edges
from reach.pictures.shown import shown_of
from reach.pictures.worksite import margin_words, worksite_of, worksites_of
from reach.worker.search import find_postures


@pytest.fixture(scope="module")
def sites(outcome):
    return {site.situation.step: site for site in worksites_of(outcome)}


def test_there_is_one_worksite_a_step_and_action(outcome, sites):
    assert list(sites) == ["stand", "left bolt", "right bolt", "too far", "behind"]
    assert [site.number for site in sites.values()] == [1, 2, 3, 4, 5]
    assert sites["left bolt"].stem == "02-left-bolt-drive-PB1"


def test_the_worst_verdict_leads(sites):
    assert sites["left bolt"].verdict is Verdict.PASS
    assert sites["too far"].verdict is Verdict.FAIL
    assert sites["too far"].findings[0].verdict is Verdict.FAIL


def test_of_several_bodies_the_worst_one_is_drawn(outcome, sites):
    site = sites["left bolt"]
    other = dataclasses.replace(site.situation, case="large")
    fails = [
        dataclasses.replace(f, case="large", low=-2.0, high=-1.0)
        for f in site.findings
        if f.check == "reach"
    ]
    both = dataclasses.replace(
        outcome, situations=(site.situation, other), findings=(*outcome.findings, *fails)
    )
    (drawn,) = worksites_of(both)
    assert drawn.situation is other
    assert drawn.cases == ("medium", "large")
    assert drawn.verdict is Verdict.FAIL


def test_every_answer_of_a_check_counts(outcome, sites):
    """Boots that do not turn out are not hidden behind a hand that has something to hold."""
    site = sites["stand"]
    boots, hand = (f for f in site.findings if f.check == "ingress")
    fails = dataclasses.replace(boots, low=-0.2, high=-0.1)
    others = tuple(f for f in site.findings if f.check != "ingress")
    for findings in ((fails, hand), (hand, fails)):
        changed = dataclasses.replace(
            outcome, situations=(site.situation,), findings=(*others, *findings)
        )
        (drawn,) = worksites_of(changed)
        assert drawn.verdict is Verdict.FAIL
        assert [f.check for f in drawn.findings].count("ingress") == 2


def test_a_place_left_blank_cannot_be_drawn(outcome, sites):
    situation = sites["left bolt"].situation
    nowhere = dataclasses.replace(situation, place=None)
    with pytest.raises(ValueError, match="'left bolt' leaves its place or setting blank"):
        worksite_of(outcome, nowhere)


def test_the_work_posture_has_the_tool_on_the_head(outcome, sites):
    situation = sites["left bolt"].situation
    shown = shown_of(outcome.site, situation)
    assert shown.is_found and shown.looks
    assert np.allclose(shown.tip, situation.head.point, atol=1e-6)
    assert hidden_by(shown, situation) is None


def test_out_of_reach_the_nearest_posture_is_drawn_and_called_so(outcome, sites):
    situation = sites["too far"].situation
    shown = shown_of(outcome.site, situation)
    assert not shown.is_found and not shown.looks
    assert shown.words.startswith("not reached: nearest")
    gap = np.linalg.norm(shown.tip - situation.head.point)
    assert gap >= shown.attempt.short - 1e-9, "nearer than was proved possible"


def test_a_hidden_head_names_what_hides_it(outcome, sites):
    site = sites["behind"]
    shown = shown_of(outcome.site, site.situation)
    _, solid = hidden_by(shown, site.situation)
    assert solid == "panel"


def test_every_fail_is_marked_with_its_margin(outcome, sites):
    site = sites["too far"]
    shown = shown_of(outcome.site, site.situation)
    notes = outside_notes(site, shown, outside_camera(shown, site.situation, 1.4))
    said = " ".join(line for tag in notes.tags if tag.style == "fail" for line in tag.lines)
    for finding in site.findings:
        if finding.verdict is Verdict.FAIL:
            assert f"FAIL {finding.check}: {margin_words(finding)}" in said
    assert all(tag.spot == "cross" for tag in notes.tags if tag.style == "fail")


def test_the_outside_camera_holds_body_boots_and_fastener(outcome, sites):
    for site in sites.values():
        shown = shown_of(outcome.site, site.situation)
        camera = outside_camera(shown, site.situation, 1.4)
        xy, depth = camera.project(subject_of(shown, site.situation, np.empty((0, 3))))
        assert (depth > 0.1).all()
        assert (np.abs(xy) < np.array([0.7, 0.5])).all()


def test_the_eyes_camera_looks_at_the_head_from_the_eye(outcome, sites):
    situation = sites["left bolt"].situation
    shown = shown_of(outcome.site, situation)
    camera = eyes_camera(shown, situation.head.point, 1.4)
    xy, _ = camera.project(situation.head.point[None])
    assert np.allclose(xy, 0.0, atol=1e-12)
    assert np.array_equal(camera.position, shown.eye)
    assert np.allclose(camera.axes @ camera.axes.T, np.eye(3))


def test_the_envelope_is_inside_what_can_be_reached(outcome, sites):
    attempt = shown_of(outcome.site, sites["left bolt"].situation).attempt
    envelope = known_envelope(outcome.site, attempt.figure, attempt.target.direction)
    some = envelope.reached[::6]
    found = find_postures(attempt.figure, some, attempt.target.direction, "full")
    assert (found.violation <= 0.0).all()
    a, b, c = (envelope.points[envelope.faces[:, i]] for i in range(3))
    volume = np.einsum("ij,ij->i", a, np.cross(b, c)).sum() / 6.0
    assert 0.1 < volume < 4.0
    assert np.isfinite(transform_points(np.eye(4), envelope.points)).all()


def test_a_box_has_twelve_sharp_edges(outcome):
    (_, _, tree, _) = outcome.situations[0].surroundings.hazards[0]
    assert len(sharp_edges(tree.tri.reshape(-1, 3, 3))) == 12
