"""What the sign-in page of the demo tells a newcomer."""

from django import template

from intake.local import demo_people
from intake.local.demo_people import Account

register = template.Library()


@register.simple_tag
def demo_accounts() -> tuple[Account, ...]:
    return demo_people.ACCOUNTS


@register.simple_tag
def demo_password() -> str:
    return demo_people.PASSWORD
