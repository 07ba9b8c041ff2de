"""Loaded scenes and procedures with variations: copies that say that they are not the files."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import replace

from reach.files.procedure import LoadedProcedure
from reach.files.scene import LoadedScene
from reach.varying.making import idle, varied
from reach.varying.variation import Sized, Variation, words_of


def varied_copies(
    loaded: LoadedScene, asked: LoadedProcedure, variations: Sequence[Variation]
) -> tuple[LoadedScene, LoadedProcedure]:
    """Return copies with variations; both say so, and no digest of them is that of the files.

    A variation that changes nothing, since the files say so already, is told as a warning.

    Raises
    ------
    UnfitError
        With every reason why one of them cannot be had.
    """
    if not variations:
        return loaded, asked
    scene, procedure = varied(loaded.scene, asked.procedure, variations)
    warnings = [
        f"What if {words_of(one)}: that changes nothing, it is so already."
        for one in idle(loaded.scene, asked.procedure, variations)
    ]
    copy = replace(loaded, scene=scene, warnings=(*warnings, *loaded.warnings))
    words = [words_of(one) for one in variations]
    return told_as(copy, replace(asked, procedure=procedure), words)


def told_as(
    loaded: LoadedScene, asked: LoadedProcedure, words: Iterable[str]
) -> tuple[LoadedScene, LoadedProcedure]:
    """Return copies that say in ``words`` how they differ from their files, besides before.

    The words join the inputs under a name of their own, with their own hash.
    """
    told = (*loaded.what_if, *words)
    if not told:
        return loaded, asked
    before = input_name(loaded.what_if)
    entry = {input_name(told): hashlib.sha256(input_name(told).encode()).hexdigest()}
    files = _without(loaded.files, before) | entry
    of_procedure = _without(asked.files or {asked.file: asked.sha256}, before) | entry
    return (
        replace(loaded, files=files, what_if=told),
        replace(asked, files=of_procedure, what_if=told),
    )


def input_name(told: Sequence[str]) -> str:
    """Return the name under which variations stand among the inputs.

    Examples
    --------
    >>> input_name(["swap W1 and W2", "SK3 blocked"])
    'what if (swap W1 and W2, SK3 blocked)'
    """
    return f"what if ({', '.join(told)})"


def _without(files: Mapping[str, str], name: str) -> dict[str, str]:
    return {file: sha256 for file, sha256 in files.items() if file != name}


def sizes_problems(variations: Iterable[Variation], sizes: Sequence[str]) -> list[str]:
    """Return what is wrong with variations of bodies where size classes replace every body."""
    if not sizes:
        return []
    return [
        f"{words_of(one)!r} changes nothing: the size classes asked for replace every body"
        for one in variations
        if isinstance(one, Sized)
    ]
