"""What papers say in the same words on a page."""

from django import template

from intake.outputs.paper.words import moment

register = template.Library()
register.filter("moment", moment)
