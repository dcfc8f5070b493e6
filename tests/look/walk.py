"""A walk through the site along its own links, as one visitor: every page that reading and clicking lead to."""

from collections import Counter
from collections.abc import Iterator
from dataclasses import dataclass
from urllib.parse import urlsplit

from django.urls import Resolver404, resolve
from playwright.sync_api import Page, Response

# Pages of one route look alike; some are worth seeing in each of their states.
SEEN_OF_ONE_ROUTE = 1
SEEN_IN_EVERY_STATE = {"portal:interview-detail": 8, "desk:interview-detail": 8, "portal:part-detail": 2}
NOT_FOLLOWED = {"account_logout"}
# Letters to everybody: they link to what their readers may see, and this visitor may not.
NOT_READ_ON = {"demo:mail", "demo:mail-html"}


@dataclass(frozen=True)
class Stop:
    """One page of the walk: its route's name and its address with the query."""

    route: str
    address: str
    came_from: str


class DeadLink(AssertionError):
    """A page links to something that is not there."""


def walk(page: Page, start: str) -> Iterator[Stop]:
    """Open each page once, breadth first, and stop at it: the page stands open while the caller looks.

    Files (papers, recordings) are asked for, not opened. Raises DeadLink.
    """
    waiting = [Stop(route_of(start), start, "the start")]
    met = {start}
    seen: Counter[str] = Counter()
    while waiting:
        stop = waiting.pop(0)
        if seen[stop.route] >= SEEN_IN_EVERY_STATE.get(stop.route, SEEN_OF_ONE_ROUTE):
            continue
        if not _is_page(page, stop):
            continue
        answer = page.goto(stop.address, wait_until="networkidle")
        _refuse_dead(stop, answer)
        seen[stop.route] += 1
        is_here = route_of(page.url) == stop.route
        if is_here:
            yield stop
        for address in _next_from(page, stop) if is_here else [_address_of(page)]:
            if address not in met and route_of(address) not in NOT_FOLLOWED:
                met.add(address)
                waiting.append(Stop(route_of(address), address, stop.address))


def route_of(address: str) -> str:
    """The name of the route that answers at an address of the site; raises DeadLink where there is none."""
    try:
        return resolve(urlsplit(address).path, urlconf="tests.local.demo_urls").view_name
    except Resolver404 as error:
        raise DeadLink(f"no route answers at {address}") from error


def _is_page(page: Page, stop: Stop) -> bool:
    answer = page.request.get(stop.address, headers={"Range": "bytes=0-0"})
    if answer.status >= 400:
        raise DeadLink(f"{stop.came_from} links to {stop.address}, which answers {answer.status}")
    return answer.headers.get("content-type", "").startswith("text/html")


def _refuse_dead(stop: Stop, answer: Response | None) -> None:
    if answer is None or answer.status >= 400:
        status = answer.status if answer else "nothing"
        raise DeadLink(f"{stop.came_from} links to {stop.address}, which answers {status}")


def _address_of(page: Page) -> str:
    """Where the page that stands open is, without the site's own name."""
    parts = urlsplit(page.url)
    return parts.path + (f"?{parts.query}" if parts.query else "")


def _next_from(page: Page, stop: Stop) -> list[str]:
    """Addresses within the site, without fragments, in the order of the page."""
    if stop.route in NOT_READ_ON:
        return []
    return page.eval_on_selector_all(
        "a[href]",
        """links => links.filter(link => link.origin === location.origin && !link.hasAttribute("download"))
             .map(link => link.pathname + link.search)""",
    )
