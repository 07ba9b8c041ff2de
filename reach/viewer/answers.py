"""What a second process works out for the page: whole checks, all targets, the best setting.

Each job is a plain function of the inputs and of what is asked; it tells how far it is, and gives
back records that can be handed from process to process.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Any

from reach.comparing.compare import compare
from reach.comparing.edits import Edit, Version
from reach.comparing.flips import Change
from reach.files.filling import written_setting
from reach.files.kept import KeptOnDisk
from reach.files.problem import InputError
from reach.files.procedure import LoadedProcedure, load_procedure
from reach.files.question import usual_way
from reach.files.scene import LoadedScene, load_scene
from reach.finding import Finding
from reach.ledgers import Entry, ledger_of
from reach.reports.record import to_csv, to_json
from reach.run import Outcome, check
from reach.settings.choose import choose, own_procedure
from reach.viewer.trial import Setting, Trial, asked_of, turning

Say = Callable[[int, int, str], None]
Part = Callable[[Any], None]


@dataclass(frozen=True, slots=True)
class Answer:
    """What the checks say of one question or procedure, without the scene behind it."""

    findings: tuple[Finding, ...]
    not_asked: tuple[tuple[str, str], ...] = ()
    inputs: tuple[tuple[str, str], ...] = ()
    warnings: tuple[str, ...] = ()
    seconds: float = 0.0


@dataclass(frozen=True, slots=True)
class Target:
    """One fastener from the trial's place: how it was asked and what was found."""

    name: str
    trial: Trial
    answer: Answer | None
    problem: str = ""


@dataclass(frozen=True, slots=True)
class Best:
    """One setting that was found: where, how, and what the checks say."""

    socket: str
    restraint: str
    setting: Setting
    words: str
    worst: float
    lacks: str
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True)
class Flipped:
    """One question whose answer changed between two versions."""

    change: str
    is_worse: bool
    is_better: bool
    old: Finding | None
    new: Finding | None


@dataclass(frozen=True, slots=True)
class Compared:
    """What another version changes, and both versions' answers."""

    edits: tuple[Edit, ...]
    flips: tuple[Flipped, ...]
    old: Answer
    new: Answer


class Inputs:
    """Scene and procedure of the page, loaded once in each process."""

    def __init__(self, scene: str, procedure: str | None = None, other: str | None = None) -> None:
        self.scene_name, self.procedure_name, self.other_name = scene, procedure, other
        self.loaded: LoadedScene = load_scene(scene)
        self.asked = self._procedure(procedure)
        self.other = load_procedure(other, self.loaded) if other else None
        self.kept = KeptOnDisk()

    def anew(self) -> Inputs:
        """Return the same read again from the files as they are now.

        Raises
        ------
        InputError
            With everything that does not fit in them.
        """
        return Inputs(self.scene_name, self.procedure_name, self.other_name)

    def _procedure(self, procedure: str | None) -> LoadedProcedure | None:
        if procedure is None and self.loaded.scene.procedure is None:
            return None
        return load_procedure(procedure, self.loaded)

    def usual(self, worker: str, targets: Sequence[str]) -> dict[str, dict[str, Any]]:
        """Return how the procedure has targets turned."""
        asked = self.asked or own_procedure(self.loaded)
        return usual_way(self.loaded, asked.procedure, worker, targets) if asked else {}

    def checked(self, trial: Trial, say: Say | None = None) -> Outcome:
        """Return the whole check of a trial, as `reach ask` runs it."""
        asked = asked_of(self.loaded, trial)
        return check(self.loaded, asked, sizes=trial.sizes, kept=self.kept, say=say)


def whole(inputs: Inputs, say: Say, part: Part, trial: Trial) -> Answer:
    """Return what every check says of a trial."""
    outcome = inputs.checked(trial)
    inputs.kept.write()
    return answer_of(outcome)


def targets(inputs: Inputs, say: Say, part: Part, trial: Trial, names: Sequence[str]) -> None:
    """Give part by part what every check says of each target from the trial's place."""
    usual = inputs.usual(trial.worker, names)
    for done, name in enumerate(names):
        say(done, len(names), name)
        one = trial_for(inputs.loaded, trial, name, usual.get(name))
        try:
            part(Target(name, one, answer_of(inputs.checked(one))))
        except InputError as error:
            part(Target(name, one, None, "; ".join(p.message for p in error.problems)))
    inputs.kept.write()
    say(len(names), len(names), "done")


def trial_for(
    loaded: LoadedScene, trial: Trial, target: str, usual: dict[str, Any] | None
) -> Trial:
    """Return the trial as it would turn another target: with the usual tool for it."""
    if target == trial.fastener:
        return trial
    return turning(loaded.scene, trial, target, usual)


def best(inputs: Inputs, say: Say, part: Part, trial: Trial, here: bool) -> tuple[str, list[Best]]:
    """Return the best settings for the trial's target, in its own socket or in any free one."""
    choice = choose(
        inputs.loaded,
        [trial.fastener],
        restraint=trial.restraint or None,
        sockets=[trial.where] if here else None,
        sizes=trial.sizes,
        procedure=inputs.asked,
        say=say,
        worker=trial.worker,
        tool=trial.tool or None,
        bit=trial.bit or None,
        extension=trial.extension or None,
        hand=trial.hand,
        placed=dict(trial.placed) or None,
    )
    kind = choice.asks[0].place.restraint if choice.asks[0].place is not None else None
    assert kind is not None
    found = [
        Best(
            one.served.candidate.socket,
            trial.restraint,
            written_setting(kind, one.served.candidate.angles),
            one.served.candidate.words,
            one.worst,
            one.lacks,
            one.findings,
        )
        for one in choice.judged
    ]
    return choice.outcome.findings[0].because, found


def procedure(inputs: Inputs, say: Say, part: Part) -> Answer:
    """Return what every check says of the procedure."""
    assert inputs.asked is not None
    outcome = check(inputs.loaded, inputs.asked, kept=inputs.kept, say=say)
    inputs.kept.write()
    return answer_of(outcome)


def ledger(inputs: Inputs, say: Say, part: Part) -> dict[str, Entry]:
    """Return how everything stands after each step of the procedure."""
    assert inputs.asked is not None
    return {one.step: one for one in ledger_of(inputs.loaded, inputs.asked).entries}


def compared(inputs: Inputs, say: Say, part: Part) -> Compared:
    """Return what the other version changes, and what becomes of the answers."""
    assert inputs.asked is not None
    assert inputs.other is not None
    old, new = (Version(inputs.loaded, one) for one in (inputs.asked, inputs.other))
    found = compare(old, new, runs=0, say=say, kept=inputs.kept)
    inputs.kept.write()
    flips = tuple(
        Flipped(
            str(flip.change), flip.is_worse, flip.is_better, flip.old, flip.new
        )
        for flip in found.flips
        if flip.change is not Change.ALIKE
    )  # fmt: skip
    return Compared(found.edits, flips, answer_of(found.old), answer_of(found.new))


def texts(inputs: Inputs, say: Say, part: Part, trial: Trial | None) -> tuple[str, str]:
    """Return the findings of a trial, or of the procedure, as JSON and CSV."""
    if trial is None:
        assert inputs.asked is not None
        outcome = check(inputs.loaded, inputs.asked, kept=inputs.kept, say=say)
    else:
        outcome = inputs.checked(trial, say)
    inputs.kept.write()
    return to_json(outcome), to_csv(outcome)


def answer_of(outcome: Outcome) -> Answer:
    """Return an outcome without the scene behind it."""
    return Answer(
        outcome.findings, outcome.not_asked, outcome.inputs, outcome.warnings, outcome.seconds
    )


JOBS = {one.__name__: one for one in (whole, targets, best, procedure, ledger, compared, texts)}
"""What a second process can be asked for."""
