"""The mark by which a form sent twice is known."""

import uuid

from django import template
from django.utils.html import format_html
from django.utils.safestring import SafeString

register = template.Library()


@register.simple_tag
def form_key() -> SafeString:
    """A hidden field that is another one each time the form is drawn."""
    return format_html('<input type="hidden" name="form_key" value="{}">', uuid.uuid4().hex)
