"""`reach settings`: what is typed is refused or answered, in words and in JSON."""

import json

import pytest
from test_fill import PLAIN, STEPS, call

from reach.cautions import CAUTIONS

DRIVE = ("--tool", "power-drive", "--bit", "S-16")
"""For what the procedure does not turn."""


@pytest.fixture
def yard(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("REACH_CACHE", str(tmp_path / "cache"))
    folder = tmp_path / "yard"
    folder.mkdir()
    (folder / "scene.toml").write_text(PLAIN)
    (folder / "procedure.toml").write_text(STEPS)
    return folder


def settings(*words, targets="B1"):
    return call("settings", "yard", "--targets", targets, *words)


@pytest.mark.parametrize(
    ("words", "message"),
    [
        (["--targets", "B11"], "did you mean 'B1'?"),
        (["--targets", ","], "there are"),
        (["--sockets", "SAA"], "did you mean 'SA'?"),
        (["--size", "smal"], "did you mean 'small'?"),
        (["--worker", "W11"], "did you mean 'W1'?"),
        (["--restraint", "stnd"], "did you mean 'stand'?"),
        (["--tool", "power-driv"], "did you mean 'power-drive'?"),
        (["--top", "0"], "--top"),
        (["--step", "15 m"], "--step"),
        (["--step", "0 deg"], "must be greater than 0"),
        (["--hand", "third"], "--hand"),
        (["--placed", "boom"], "boom"),
        (["--json", "no/such.json"], "no folder"),
        (["--units", "miles"], "miles"),
    ],
)
def test_what_cannot_be_meant_is_refused_with_the_nearest_right_name(
    yard, monkeypatch, words, message
):
    def work(*args, **more):
        raise AssertionError("worked")

    monkeypatch.setattr("reach.settings.choose.grid_of", work)
    targets = words[1] if words[0] == "--targets" else "B1"
    result = settings(*(words if words[0] != "--targets" else []), targets=targets)
    assert result.exit_code == 2, result.output
    assert message in result.stderr
    assert result.stdout == ""
    assert "Traceback" not in result.stderr


def test_two_unknown_targets_are_both_told_of(yard):
    result = settings(targets="B11,B22,B1")
    assert result.exit_code == 2
    assert "'B11'" in result.stderr
    assert "'B22'" in result.stderr


def test_no_worker_where_several_are_there_names_them(yard):
    scene = yard / "scene.toml"
    scene.write_text(
        scene.read_text() + 'W2 = { size = "small", hand = "left", suit = "halden" }\n'
    )
    result = settings()
    assert result.exit_code == 2
    assert "W1" in result.stderr
    assert "W2" in result.stderr


def test_a_setting_found_gives_0_and_all_cautions(yard):
    result = settings(targets="B1,B2")
    assert result.exit_code == 0, result.output
    text = " ".join(result.stdout.split())
    for caution in CAUTIONS:
        assert " ".join(caution.format(hash="").split())[:50] in text
    assert "SETTINGS stand for W1 (medium): B1, B2" in text
    assert "MARGINS OF REACH" in text


def test_customary_units_stand_beside_metres_on_request(yard):
    assert " in)" not in settings().stdout.split("LOOKED AT")[0]
    assert " in)" in settings("--units", "both").stdout.split("LOOKED AT")[0]


def test_a_target_beyond_every_setting_gives_1_and_the_socket_that_comes_nearest(yard):
    result = settings(*DRIVE, targets="FAR")
    assert result.exit_code == 1
    text = " ".join(result.stdout.split())
    assert "No setting of stand in any free socket serves FAR for W1 (medium): short by" in text
    assert "in SA, where FAR is out of reach" in text


def test_what_is_only_not_found_gives_3(yard, monkeypatch):
    monkeypatch.setattr("reach.settings.choose.remedies", lambda *asked: [])
    scene = yard / "scene.toml"
    cage = ", cage = { box = [0.1, 1.4, 1.6], at = [0.25, 0.0, 1.3] } }\nsockets"
    scene.write_text(scene.read_text().replace(" }\nsockets", cage, 1))
    result = settings()
    assert result.exit_code == 3, result.output
    assert "cannot be excluded" in " ".join(result.stdout.split())


def test_json_says_everything_and_is_the_same_twice(yard):
    texts = []
    for name in ("a.json", "b.json"):
        assert settings("--top", "2", "--json", name, targets="B1,B2").exit_code == 0
        texts.append((yard.parent / name).read_bytes())
    assert texts[0] == texts[1]
    found = json.loads(texts[0])["settings"]
    assert found["schema"] == "settings-1"
    assert [one["socket"] for one in found["ranked"]] == ["SA", "SA"]
    first = found["ranked"][0]
    assert set(first["setting"]) == {"clocking", "pitch"}
    margins = [one["margin"] for one in first["margins"].values()]
    assert list(first["margins"]) == ["B1, medium", "B2, medium"]
    assert first["worst_margin"] == min(margins)
    assert first["worst_margin"] >= found["ranked"][1]["worst_margin"]
    assert found["proved_short"].keys() == {"SA"}
    assert found["settings"] == 9
    assert 0 < found["not_excluded"] <= 9
    assert {"per_target", "remedies", "tried", "others_better_by_at_most"} <= found.keys()


def test_json_of_a_certificate_carries_the_shortage(yard):
    assert settings(*DRIVE, "--json", "far.json", targets="FAR").exit_code == 1
    record = json.loads((yard.parent / "far.json").read_text())
    assert record["settings"]["ranked"] == []
    assert record["settings"]["proved_short"]["SA"]["metres"] > 1.0
    (finding,) = [one for one in record["findings"] if one["check"] == "settings"]
    assert finding["verdict"] == "fail"
