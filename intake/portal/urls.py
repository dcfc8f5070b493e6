"""The volunteers' site."""

from django.urls import path

from intake.portal.views import attachments, interviews, paper, releases, uploads, welcome

app_name = "portal"
urlpatterns = [
    path("interviews/", interviews.home, name="home"),
    path("interviews/new/", interviews.start, name="interview-start"),
    path("interviews/<int:pk>/", interviews.detail, name="interview-detail"),
    path("interviews/<int:pk>/parts/", interviews.parts, name="interview-parts"),
    path("interviews/<int:pk>/before-upload/", uploads.before, name="interview-before-upload"),
    path("interviews/<int:pk>/edit/", interviews.edit, name="interview-edit"),
    path("interviews/<int:pk>/submit/", interviews.submit, name="interview-submit"),
    path("interviews/<int:pk>/withdraw/", interviews.withdraw, name="interview-withdraw"),
    path("interviews/<int:pk>/people/", interviews.add_person, name="person-add"),
    path("interviews/<int:pk>/receipt/", interviews.receipt, name="interview-receipt"),
    path("arrivals/<int:pk>/receipt/", interviews.arrival_receipt, name="arrival-receipt"),
    path("people/<int:pk>/edit/", interviews.edit_person, name="person-edit"),
    path("people/<int:pk>/remove/", interviews.remove_person, name="person-remove"),
    path("parts/<int:pk>/", interviews.part, name="part-detail"),
    path("parts/<int:pk>/remove/", interviews.remove_part, name="part-remove"),
    path("parts/<int:pk>/put-back/", interviews.put_back, name="part-put-back"),
    path("parts/<int:pk>/move/", interviews.move_part, name="part-move"),
    path("interviews/<int:pk>/parts/order/", interviews.order_parts, name="parts-order"),
    path("parts/<int:pk>/listen/", interviews.listen, name="part-listen"),
    path("interviews/<int:pk>/attachments/", attachments.attachments, name="interview-attachments"),
    path("attachments/<int:pk>/edit/", attachments.edit, name="attachment-edit"),
    path("attachments/<int:pk>/take-out/", attachments.take_out, name="attachment-take-out"),
    path("attachments/<int:pk>/file/", attachments.file, name="attachment-file"),
    path("people/<int:pk>/hand-over/", releases.hand_over, name="release-hand-over"),
    path("people/<int:pk>/paper/", paper.paper, name="paper"),
    path("people/<int:pk>/paper/print/", paper.print_form, name="paper-print"),
    path("release-forms/<int:pk>/", paper.release_form, name="release-form"),
    path("signed-forms/<int:pk>/scans/", paper.scans, name="signed-form-scans"),
    path("signed-forms/<int:pk>/hand-in/", paper.hand_in, name="signed-form-hand-in"),
    path("scans/<int:pk>/file/", paper.scan, name="scan-file"),
    path("scans/<int:pk>/take-back/", paper.take_back, name="scan-take-back"),
    path("releases/<int:pk>/copy/", releases.copy, name="release-copy"),
    path("uploads/", uploads.create, name="uploads"),
    path("uploads/for/<str:signed>/", uploads.create_for_program, name="uploads-for-program"),
    path("uploads/<uuid:pk>/<str:key>/", uploads.upload, name="upload"),
    path("uploads/<uuid:pk>/<str:key>/digest/", uploads.digest, name="upload-digest"),
    path("welcome/<str:token>/", welcome.invitation, name="welcome"),
    path("kit-code/", welcome.kit_code, name="kit-code"),
    path("kit-code/account/", welcome.kit_account, name="kit-account"),
]
