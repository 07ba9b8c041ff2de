"""How long steps last that do not say so, and the outing that follows from that."""

from __future__ import annotations

from collections.abc import Sequence

from reach.ledger import Outing
from reach.ledger import outing_of as outing_with
from reach.model.procedure import Procedure
from reach.site import Site, Situation


def outing_of(site: Site, situations: Sequence[Situation], procedure: Procedure) -> Outing:
    """Return the outing of a procedure; durations left blank are worked out.

    Parameters
    ----------
    site : Site
    situations : sequence of Situation
        Of the whole procedure.
    procedure : Procedure
    """
    return outing_with(site.scene, procedure)
