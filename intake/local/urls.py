"""The demo's own routes; `intake.urls` includes them in the demo alone."""

from django.urls import path

from intake.local import views

app_name = "demo"
urlpatterns = [
    path("", views.mail, name="mail"),
    path("<slug:name>/<int:number>/", views.mail_html, name="mail-html"),
    path("<slug:name>/<int:number>/<int:place>/", views.attachment, name="mail-attachment"),
]
