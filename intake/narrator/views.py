"""A session switched to one release.

Agree to sign on screen, read, choose, sign, take a copy. And the check of a paper.
"""

from datetime import datetime

from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from intake.errors import Refused
from intake.narrator.forms import CheckForm, ConsentForm, SignForm
from intake.narrator.queries import paper_behind
from intake.outputs.models import OutputKind
from intake.outputs.services import existing
from intake.outputs.services import release_form as release_form_pdf
from intake.releases import paper_forms, services
from intake.releases.models import ReleaseForm, SigningSession
from intake.releases.services import Choices, Signature
from intake.web.limits import address_of, count_miss, refuse_after_misses
from intake.web.middleware import forget
from intake.web.papers import pdf_answer
from intake.web.ranges import serve
from intake.web.refusals import refusals_as_messages, refusals_on


@login_not_required
def consent(request: HttpRequest) -> HttpResponse:
    """Asked first: may it be signed on a screen? Paper is offered beside it."""
    session = _session(request)
    if session is None:
        return _ended(request)
    form = ConsentForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        request.session["consented_at"] = timezone.now().isoformat()
        return redirect("narrator:sign")
    return render(request, "narrator/consent.html", {"form": form, "session": session})


@login_not_required
def sign(request: HttpRequest) -> HttpResponse:
    session = _session(request)
    if session is None:
        return _ended(request)
    if "consented_at" not in request.session:
        return redirect("narrator:consent")
    participant = session.participant
    wording = services.wording_for(participant.role, participant.interview.language)
    form = SignForm(request.POST or None, signer=participant.person.name)
    if request.method == "POST" and request.POST.get("signing") != str(session.pk):
        # SECURITY: a page left open from somebody else's signing must not sign for the person who has the device now.
        return redirect("narrator:consent")
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            release = services.sign(
                session.pk,
                wording_id=form.cleaned_data["wording"],
                choices=_choices(form),
                signature=_signature(request, form),
            )
            request.session["signed"] = release.pk
            return redirect("narrator:done")
    return render(request, "narrator/sign.html", {"form": form, "session": session, "wording": wording})


@login_not_required
def paper(request: HttpRequest) -> HttpResponse:
    """Sign on paper instead: the form of this one signer, to print. The device then goes back."""
    session = _session(request)
    if session is None:
        return _ended(request)
    reasons: tuple[str, ...] = ()
    if request.method == "POST":
        try:
            request.session["form"] = paper_forms.print_in_session(session.pk).pk
        except Refused as refused:
            reasons = refused.reasons
        else:
            return redirect("narrator:paper")
    return render(
        request,
        "narrator/paper.html",
        {"session": session, "release_form": _release_form(request, session), "reasons": reasons},
    )


@login_not_required
@require_safe
def release_form(request: HttpRequest) -> HttpResponse:
    session = _session(request)
    form = _release_form(request, session) if session else None
    if form is None:
        raise Http404("no form was made in this session")
    with refusals_as_messages(request):
        return pdf_answer(release_form_pdf(form), f"release-form-{form.number}.pdf")
    return redirect("narrator:consent")


@login_not_required
@require_safe
def done(request: HttpRequest) -> HttpResponse:
    signed = _signed(request)
    if signed is None:
        return _ended(request)
    return render(request, "narrator/done.html", {"paper": existing(OutputKind.RELEASE_COPY, signed)})


@login_not_required
@require_safe
def copy(request: HttpRequest) -> HttpResponseBase:
    """The signer's copy, in the session in which it was signed and nowhere else."""
    paper = existing(OutputKind.RELEASE_COPY, _signed(request))
    if paper is None:
        raise Http404("no copy yet")
    return serve(request, paper.file, download=True)


@login_not_required
@require_POST
def give_back(request: HttpRequest) -> HttpResponse:
    """End the session; whoever takes the device signs in again."""
    request.session.flush()
    return forget(redirect("account_login"))


@login_not_required
def check(request: HttpRequest) -> HttpResponse:
    form = CheckForm(request.GET or None)
    if form.is_bound and form.is_valid():
        return redirect("narrator:check-paper", number=form.cleaned_data["number"])
    return render(request, "narrator/check.html", {"form": form})


@login_not_required
@require_safe
def check_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Whether a paper with this number was made here: no names, no titles."""
    try:
        refuse_after_misses(request, "check-paper")
    except Refused as refused:
        return render(request, "narrator/check.html", {"form": CheckForm(), "reasons": refused.reasons}, status=429)
    paper = paper_behind(number)
    if paper is None:
        count_miss(request, "check-paper")
    status = 200 if paper else 404
    return render(
        request, "narrator/check.html", {"form": CheckForm(), "number": number, "paper": paper}, status=status
    )


def _session(request: HttpRequest) -> SigningSession | None:
    """The signing this browser was switched to.

    SECURITY: somebody who has signed in since then is not the signer, whatever the browser still remembers.
    """
    if request.user.is_authenticated:
        return None
    try:
        return services.live_session(request.session.get("signing"))
    except Refused:
        return None


def _signed(request: HttpRequest) -> int | None:
    """The release signed in this session; none for whoever has signed in since then."""
    return None if request.user.is_authenticated else request.session.get("signed")


def _release_form(request: HttpRequest, session: SigningSession) -> ReleaseForm | None:
    """The form made in this session for the person who has the device."""
    forms = ReleaseForm.objects.select_related("wording", "participant")
    return forms.filter(pk=request.session.get("form", 0), participant=session.participant).first()


def _ended(request: HttpRequest) -> HttpResponse:
    if _signed(request):
        return redirect("narrator:done")
    return render(request, "narrator/ended.html", status=410)


def _choices(form: SignForm) -> Choices:
    data = form.cleaned_data
    return Choices(data["access"], data["closed_until"], data["closed_event"], data["name_withheld"])


def _signature(request: HttpRequest, form: SignForm) -> Signature:
    return Signature(
        method=form.cleaned_data["method"],
        typed_name=form.cleaned_data["typed_name"],
        png=form.cleaned_data["png"],
        consented_at=datetime.fromisoformat(request.session["consented_at"]),
        address=address_of(request) or None,
        agent=request.headers.get("User-Agent", ""),
    )
