"""The pages behind a signing session, and the check of a paper. None needs an account."""

from django.urls import path

from intake.narrator import turn, views

app_name = "narrator"
urlpatterns = [
    path("link/<str:token>/", views.link, name="link"),
    path("sign/", views.consent, name="consent"),
    path("sign/release/", views.sign, name="sign"),
    path("sign/paper/", views.paper, name="paper"),
    path("sign/paper/form/", views.printed_form, name="printed-form"),
    path("sign/done/", views.done, name="done"),
    path("sign/copy/", views.copy, name="copy"),
    path("sign/give-back/", views.give_back, name="give-back"),
    path("copies/", views.copies, name="copies"),
    path("copies/<int:pk>/", views.copy_of_part, name="copy-of-part"),
    path("copies/papers/<int:pk>/", views.own_paper, name="own-paper"),
    path("hear/", turn.hear, name="hear"),
    path("hear/<int:pk>/", turn.listen, name="hear-part"),
    path("hear/wishes/<int:pk>/take-back/", turn.take_back, name="wish-take-back"),
    path("hear/answer/", turn.answer, name="turn-answer"),
    path("check/", views.check, name="check"),
    path("check/file/", views.check_file, name="check-file"),
    path("check/<str:number>/", views.check_paper, name="check-paper"),
]
