"""`view`: a local page to look at a scene, try settings and play a procedure."""

from __future__ import annotations

from pathlib import Path
from typing import Annotated

import typer

from reach.cli.options import UNREADABLE, Scene, app, note, plain_errors, refuse_folder

LIBRARIES = ("trame", "trame_vtk", "trame_pyvista", "aiohttp")
MISSING = (
    "The page needs libraries that are not installed ({}). Install them with: "
    "pip install 'worksite-reach[web]'"
)


@app.command(name="view")
def view_command(
    scene: Scene,
    procedure: Annotated[
        str | None,
        typer.Argument(
            metavar="PROCEDURE", help="A procedure file; without it the one the scene names."
        ),
    ] = None,
    other: Annotated[
        str | None,
        typer.Option("--with", metavar="OTHER", help="A second version to compare with."),
    ] = None,
    out: Annotated[
        Path,
        typer.Option("--out", metavar="DIR", help="Folder for what is exported, when it is."),
    ] = Path("reach-view"),
    port: Annotated[
        int, typer.Option("--port", metavar="N", min=0, max=65535, help="0 for a free one.")
    ] = 0,
    no_open: Annotated[
        bool, typer.Option("--no-open", help="Only print the address; open no browser.")
    ] = False,
) -> None:
    """Show scene and procedure on a local page, to turn and try.

    The page answers this computer alone, and only whoever has the address that is printed.
    """
    with plain_errors():
        _need_libraries()
        from reach.answer import compile_first
        from reach.viewer.answers import Inputs
        from reach.viewer.serve import serve

        refuse_folder(out)
        note(f"Loading {scene}; the address follows.")
        inputs = Inputs(scene, procedure, other)
        compile_first()
        try:
            serve(inputs, out=out, port=port, is_opened=not no_open, say=note)
        except (RuntimeError, OSError) as error:
            note(f"No page: {str(error).removesuffix(' Everything else ran.')}")
            raise typer.Exit(UNREADABLE) from None


def _need_libraries() -> None:
    from importlib.util import find_spec

    lacking = [name for name in LIBRARIES if find_spec(name) is None]
    if lacking:
        note(MISSING.format(", ".join(lacking)))
        raise typer.Exit(UNREADABLE)
