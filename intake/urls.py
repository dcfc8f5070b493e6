"""The doors of the site: three audiences, accounts, and the machine doors."""

from django.conf import settings
from django.contrib.auth.decorators import login_not_required
from django.urls import include, path
from django.views.generic import RedirectView, TemplateView

from intake.web.trust import certificate, trust
from intake.web.views import health, home, logo

urlpatterns = [
    path("", home, name="home"),
    path("health/", health, name="health"),
    path("trust/", trust, name="trust"),
    path("trust/certificate/", certificate, name="trust-certificate"),
    path("logo/<uuid:pk>/", logo, name="logo"),
    # Addresses are changed by staff, who know the person behind an account.
    path("account/email/", RedirectView.as_view(pattern_name="mfa_index")),
    path("account/", include("allauth.urls")),
    path("desk/", include("intake.desk.urls")),
    path("", include("intake.harvest.urls")),
    path("", include("intake.narrator.urls")),
    path("", include("intake.portal.urls")),
]
handler400 = "intake.web.views.bad_request"
if settings.DEMO:
    # SECURITY: shows every secret link to anybody. Named by a string: the sites know nothing of `local`.
    urlpatterns.append(path("demo-mail/", include("intake.local.urls")))
if settings.DEBUG:
    pieces = login_not_required(TemplateView.as_view(template_name="styleguide.html"))
    urlpatterns.append(path("pieces/", pieces, name="pieces"))
