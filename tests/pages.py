"""Reading a page as a person does: its text, its links and its forms."""

import re
from html import unescape

from django.test import Client

from intake.accounts.models import User


def signed_in(user: User) -> Client:
    browser = Client()
    browser.force_login(user)
    return browser


def text_of(answer) -> str:
    """The words of a page in one line, without its markup."""
    words = re.sub(r"(?s)<script.*?</script>|<[^>]+>", " ", answer.content.decode())
    return " ".join(unescape(words).split())


def links_of(answer) -> set[str]:
    return set(re.findall(r'<a\b[^>]*\bhref="([^"]*)"', answer.content.decode()))


def actions_of(answer) -> set[str]:
    """Where the page's forms are sent to."""
    return set(re.findall(r'<form\b[^>]*\baction="([^"]*)"', answer.content.decode()))
