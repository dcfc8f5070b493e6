"""Numbers as people read them."""

from django import template

from intake.outputs.paper.numbers import shown

register = template.Library()
register.filter("shown", shown)
