"""One address, as the protocol has it."""

from django.urls import path

from intake.harvest import views

app_name = "harvest"
urlpatterns = [path("oai/", views.provider, name="provider")]
