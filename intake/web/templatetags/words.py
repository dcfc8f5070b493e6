"""The house's way of writing figures, for templates."""

from django import template

from intake import figures
from intake.web import timecodes, words

register = template.Library()
register.filter("timecode", words.timecode)
register.filter("exact_timecode", timecodes.exact_timecode)
register.filter("size", figures.size)
register.filter("in_groups", words.in_groups)
