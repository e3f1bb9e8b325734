"""The figures' words as filters."""

from django import template

from pipeline.results import words

register = template.Library()

register.filter("rate", words.rate_in_words)
register.filter("engaged", words.engaged_in_words)
register.filter("limits", words.limits_in_words)
register.filter("returned", words.returned_in_words)
register.filter("return_limits", words.return_limits_in_words)
