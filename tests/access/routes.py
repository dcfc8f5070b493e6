"""Every route of the site by name, found by walking the resolver."""

from collections.abc import Iterator

from django.urls import URLPattern, URLResolver, get_resolver


def all_routes() -> dict[str, str]:
    """Route name (or, where it has none, its address) to its pattern."""
    return dict(_walk(get_resolver(), (), ""))


def _walk(resolver: URLResolver, spaces: tuple[str, ...], before: str) -> Iterator[tuple[str, str]]:
    for pattern in resolver.url_patterns:
        address = before + str(pattern.pattern)
        if isinstance(pattern, URLPattern):
            yield ":".join([*spaces, pattern.name]) if pattern.name else address, address
        else:
            inner = (*spaces, pattern.namespace) if pattern.namespace else spaces
            yield from _walk(pattern, inner, address)
