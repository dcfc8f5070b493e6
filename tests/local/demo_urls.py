"""The routes of the site as the demo has them."""

from django.urls import include, path

from intake.urls import urlpatterns as without_demo

urlpatterns = [*without_demo, path("demo-mail/", include("intake.local.urls"))]
