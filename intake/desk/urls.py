"""The staff's site: every route is for staff only, said once, here."""

from collections.abc import Callable
from functools import wraps
from typing import Any

from django.core.exceptions import PermissionDenied
from django.http import HttpResponseBase
from django.urls import URLPattern, path

from intake.accounts.models import Role
from intake.desk.views import (
    collections,
    copies,
    counter,
    description,
    evidence,
    exports,
    headings,
    imports,
    jobs,
    kits,
    letter_texts,
    listening,
    messages,
    narrators_copy,
    numbers,
    packages,
    papers,
    people,
    persons,
    queue,
    register,
    restrictions,
    review,
    second_step,
    set_up,
    signed_forms,
    texts,
    turns,
    withdrawals,
    wordings,
)
from intake.web.requests import SignedInRequest

View = Callable[..., HttpResponseBase]


def staff_only(patterns: list[URLPattern]) -> list[URLPattern]:
    """SECURITY: signed-in people who are not staff get 403 for every route of the desk; others are asked to sign in."""

    def guarded(view: View) -> View:
        @wraps(view)
        def guard(request: SignedInRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if not request.user.is_archivist:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guard

    for pattern in patterns:
        pattern.callback = guarded(pattern.callback)
    return patterns


def coordinator_only(patterns: list[URLPattern]) -> list[URLPattern]:
    """SECURITY: what decides for the whole library is the coordinator's alone; other staff get 403."""

    def guarded(view: View) -> View:
        @wraps(view)
        def guard(request: SignedInRequest, *args: Any, **kwargs: Any) -> HttpResponseBase:
            if request.user.role != Role.COORDINATOR:
                raise PermissionDenied
            return view(request, *args, **kwargs)

        return guard

    for pattern in patterns:
        pattern.callback = guarded(pattern.callback)
    return patterns


app_name = "desk"
urlpatterns = staff_only(
    [
        path("", queue.queue, name="queue"),
        path("queue/next/", queue.next_one, name="queue-next"),
        path("queue/together/", queue.together, name="queue-together"),
        path("queue/views/", queue.save_view, name="queue-view-save"),
        path("queue/views/<int:pk>/take-away/", queue.delete_view, name="queue-view-delete"),
        path("interviews/<int:pk>/", review.detail, name="interview-detail"),
        path("interviews/<int:pk>/take-up/", review.take_up, name="interview-take-up"),
        path("interviews/<int:pk>/take-over/", review.take_over, name="interview-take-over"),
        path("interviews/<int:pk>/hand-over/", review.hand_over, name="interview-hand-over"),
        path("interviews/<int:pk>/put-back/", review.put_back, name="interview-put-back"),
        path("interviews/<int:pk>/accept/", review.accept, name="interview-accept"),
        path("interviews/<int:pk>/send-back/", review.send_back, name="interview-send-back"),
        path("interviews/<int:pk>/decline/", review.decline, name="interview-decline"),
        path("interviews/<int:pk>/receipt/", review.receipt, name="interview-receipt"),
        path("arrivals/<int:pk>/receipt/", review.arrival_receipt, name="arrival-receipt"),
        path("interviews/<int:pk>/package/", packages.of_interview, name="interview-package"),
        path("interviews/<int:pk>/papers/", papers.papers, name="interview-papers"),
        path("interviews/<int:pk>/papers/labels/", papers.labels, name="labels"),
        path("interviews/<int:pk>/papers/letter/<int:person>/", papers.write_letter, name="letter-write"),
        path("papers/<int:pk>/", papers.paper, name="paper"),
        path("papers/<int:pk>/send/", papers.send, name="paper-send"),
        path("papers/<int:pk>/again/", papers.reissue, name="paper-reissue"),
        path("parts/<int:pk>/quality-report/", papers.quality_report, name="quality-report"),
        path("interviews/<int:pk>/undo/", register.undo, name="interview-undo"),
        path("interviews/<int:pk>/undo/confirm/", register.confirm_undo, name="interview-undo-confirm"),
        path("interviews/<int:pk>/undo/refuse/", register.refuse_undo, name="interview-undo-refuse"),
        path("register/", register.register, name="register"),
        path("exports/", exports.exports, name="exports"),
        path("numbers/", numbers.numbers, name="numbers"),
        path("numbers/csv/", numbers.csv, name="numbers-csv"),
        path("numbers/pdf/", numbers.pdf, name="numbers-pdf"),
        path("parts/<int:pk>/answer/", review.answer, name="part-answer"),
        path("parts/<int:pk>/picture/", listening.picture, name="part-picture"),
        path("parts/<int:pk>/picture/<int:level>/<int:number>/", listening.tile, name="part-picture-tile"),
        path("parts/<int:pk>/marks/", listening.marks, name="part-marks"),
        path("parts/<int:pk>/heard/", listening.heard, name="part-heard"),
        path("marks/<int:pk>/take-away/", listening.remove_mark, name="mark-remove"),
        path("interviews/<int:pk>/opening/", listening.opening, name="interview-opening"),
        path("interviews/<int:pk>/description/", description.description, name="description"),
        path("interviews/<int:pk>/description/catalogue/", description.catalogue, name="interview-catalogue"),
        path("interviews/<int:pk>/description/again/", description.describe_again, name="interview-describe-again"),
        path("interviews/<int:pk>/description/headings/", description.heading_give, name="heading-give"),
        path("interviews/<int:pk>/description/people/", description.contributor_name, name="contributor-name"),
        path("interviews/<int:pk>/description/people/<int:person>/", description.person_name, name="person-name"),
        path("access-points/<int:pk>/take-out/", description.heading_remove, name="heading-remove"),
        path("contributors/<int:pk>/take-out/", description.contributor_remove, name="contributor-remove"),
        path("suggestions/<slug:what>/", description.suggest, name="suggest"),
        path("interviews/<int:pk>/text/<slug:kind>/", texts.text, name="text"),
        path("interviews/<int:pk>/text/<slug:kind>/spelling/", texts.respell, name="text-respell"),
        path("interviews/<int:pk>/text/<slug:kind>/checked/", texts.checked, name="text-checked"),
        path("interviews/<int:pk>/text/files/<str:name>", texts.text_file, name="text-file"),
        path("parts/<int:pk>/words/<slug:kind>/", texts.cue_write, name="cue-write"),
        path("cues/<int:pk>/", texts.cue, name="cue"),
        path("cues/<int:pk>/take-away/", texts.cue_remove, name="cue-remove"),
        path("headings/", headings.lists, name="heading-lists"),
        path("headings/new/", headings.heading, name="heading-new"),
        path("headings/<int:pk>/", headings.heading, name="heading-change"),
        path("headings/lists/<int:pk>/", headings.one_list, name="heading-list"),
        path("parts/<int:pk>/listen/", review.listen, name="part-listen"),
        path("parts/<int:pk>/original/", review.original, name="part-original"),
        path("parts/<int:pk>/working-copy/", review.working_copy, name="part-working-copy"),
        path("parts/<int:pk>/described-copy/", review.described_copy, name="part-described-copy"),
        path("participants/<int:pk>/turn/", turns.offer, name="turn-offer"),
        path("wishes/<int:pk>/close/", turns.close, name="wish-close"),
        path("wishes/<int:pk>/decline/", turns.decline, name="wish-decline"),
        path("participants/<int:pk>/copy/", narrators_copy.copy, name="narrators-copy"),
        path("participants/<int:pk>/copy/link/", narrators_copy.send_link, name="narrators-copy-link"),
        path("parts/<int:pk>/access-copy/", restrictions.access_copy, name="part-access-copy"),
        path("parts/<int:pk>/passages/", restrictions.part_passages, name="part-passages"),
        path("passages/<int:pk>/open/", restrictions.open_passage, name="passage-open"),
        path("releases/<int:pk>/evidence/", evidence.of_release, name="release-evidence"),
        path("agreements/<int:pk>/evidence/", evidence.of_agreement, name="agreement-evidence"),
        path("releases/<int:pk>/event/", restrictions.event, name="release-event"),
        path("interviews/<int:pk>/withdrawal/", withdrawals.withdrawal, name="interview-withdrawal"),
        path("releases/<int:pk>/copy/", review.release_copy, name="release-copy"),
        path("counter/", counter.at_counter, name="counter"),
        path("counter/new/", counter.start, name="counter-start"),
        path("counter/<int:pk>/", counter.start, name="counter-start-for"),
        path("attachments/<int:pk>/file/", review.attachment, name="attachment-file"),
        path("signed-forms/", signed_forms.signed_forms, name="signed-forms"),
        path("signed-forms/<int:pk>/", signed_forms.detail, name="signed-form-detail"),
        path("signed-forms/<int:pk>/confirm/", signed_forms.confirm, name="signed-form-confirm"),
        path("signed-forms/<int:pk>/turn-down/", signed_forms.turn_down, name="signed-form-turn-down"),
        path("scans/<int:pk>/file/", signed_forms.scan, name="scan-file"),
        path("imports/", imports.imports, name="imports"),
        path("imports/<int:pk>/", imports.detail, name="import-detail"),
        path("collections/", collections.collections, name="collections"),
        path("collections/<int:pk>/package/", packages.of_collection, name="collection-package"),
        path("people/", people.people, name="people"),
        path("people/<int:pk>/", people.account, name="account"),
        path("people/<int:pk>/reopen/", people.reopen, name="account-reopen"),
        path("people/records/", persons.persons, name="persons"),
        path("people/records/<int:pk>/merge/", persons.merge, name="person-merge"),
        path("kits/", kits.kits, name="kits"),
        path("kits/<int:pk>/lend/", kits.lend, name="kit-lend"),
        path("loans/<int:pk>/code/", kits.new_code, name="loan-code"),
        path("loans/<int:pk>/take-back/", kits.take_back, name="loan-take-back"),
        path("copies/", copies.copies, name="copies"),
        path("copies/unexpected/<int:pk>/set-aside/", copies.set_aside, name="unexpected-set-aside"),
        path("parts/<int:pk>/copies/", copies.check_part, name="part-check-copies"),
        path("interviews/<int:pk>/copies/", copies.check_interview, name="interview-check-copies"),
        path("messages/", messages.messages, name="messages"),
        path("messages/<int:pk>/", messages.detail, name="message-detail"),
        path("messages/<int:pk>/preview/", messages.preview, name="message-preview"),
        path("messages/<int:pk>/attachments/<uuid:file>/", messages.attachment, name="message-attachment"),
        path("messages/<int:pk>/send-again/", messages.send_again, name="message-send-again"),
        path("messages/<int:pk>/came-back/", messages.came_back, name="message-came-back"),
        path("messages/<int:pk>/address/", messages.correct_address, name="message-address"),
        path("messages/<int:pk>/settle/", messages.settle, name="message-settle"),
        path("work/", jobs.jobs, name="jobs"),
        path("work/<int:pk>/retry/", jobs.retry, name="job-retry"),
        path("second-step/not-now/", second_step.not_now, name="second-step-not-now"),
        *coordinator_only(
            [
                path("set-up/", set_up.overview, name="set-up"),
                path("set-up/library/", set_up.library, name="set-up-library"),
                path("set-up/logo/", set_up.logo, name="set-up-logo"),
                path("set-up/logo/none/", set_up.no_logo, name="set-up-no-logo"),
                path("set-up/numbers/", set_up.numbers, name="set-up-numbers"),
                path("set-up/numbers/example/", set_up.number_example, name="set-up-number-example"),
                path("set-up/mail/", set_up.mail, name="set-up-mail"),
                path("set-up/mail/test/", set_up.mail_test, name="set-up-mail-test"),
                path("set-up/certificate/", set_up.certificate, name="set-up-certificate"),
                path("set-up/wordings/", wordings.wordings, name="wordings"),
                path("set-up/wordings/right/", set_up.wordings_are_right, name="wordings-are-right"),
                path("set-up/wordings/<int:pk>/new/", wordings.new_version, name="wording-new-version"),
                path("set-up/letters/", letter_texts.letter_texts, name="letter-texts"),
                path("set-up/letters/<slug:kind>/<slug:language>/", letter_texts.change, name="letter-text-change"),
                path("people/<int:pk>/second-step/", second_step.reset, name="second-step-reset"),
            ]
        ),
    ]
)
