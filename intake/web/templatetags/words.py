"""The house's way of writing figures, for templates."""

from django import template

from intake.web import words

register = template.Library()
register.filter("timecode", words.timecode)
register.filter("size", words.size)
register.filter("in_groups", words.in_groups)
