"""Addresses of the volunteers' site, and what is typed into its forms."""

from django.urls import reverse

TYPED = {
    "narrator_name": "Marit Oskarsen",
    "narrator_email": "marit@example.org",
    "recorded_on": "2026-03-14",
    "place": "The kitchen",
    "language": "sv",
    "summary": "The ferry.",
    "names_and_spellings": "",
    "context_notes": "A clock ticks.",
}


def page(name: str, *args: object) -> str:
    return reverse(f"portal:{name}", args=args)


def see(browser, interview):
    return browser.get(page("interview-detail", interview.pk))
