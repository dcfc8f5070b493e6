"""Every page of the demo, reached by its own links: whole at every width, in both colours, for every reader."""

from collections.abc import Callable

import pytest
from playwright.sync_api import Page

from tests.look.looking import troubles
from tests.look.walk import walk

pytestmark = pytest.mark.browser

# Whatever an archivist sees a coordinator sees too.
VISITORS = {
    "nobody": None,
    "volunteer": "tobias.wrenfield@example.org",
    "coordinator": "corin.ashgrove@example.org",
}


# So that a walk that is stopped at its first step is no success.
FEWEST = {"nobody": 5, "volunteer": 14, "coordinator": 45}


@pytest.mark.parametrize("who", VISITORS)
def test_every_page_that_a_visitor_can_reach_is_whole(who: str, visitor: Callable[..., Page], axe: str) -> None:
    page = visitor(VISITORS[who])
    found, routes = [], set()
    for number, stop in enumerate(walk(page, "/"), start=1):
        found += troubles(page, axe, f"{who}-{number:02d}-{stop.route}")
        routes.add(stop.route)
    assert not found, "\n".join(found)
    assert len(routes) >= FEWEST[who], f"the walk met {len(routes)} kinds of page only: {sorted(routes)}"
