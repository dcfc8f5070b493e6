"""The doors of the site: three audiences, accounts, and the machine doors."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path
from django.views.generic import TemplateView

urlpatterns = [
    path("account/", include("allauth.urls")),
]
if settings.DEBUG:
    urlpatterns.append(path("pieces/", login_not_required(TemplateView.as_view(template_name="styleguide.html")), name="pieces"))
