"""A session switched to one release.

Agree to sign on screen, read, choose, sign, take a copy. And the check of a paper.
"""

from datetime import datetime

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_not_required
from django.http import Http404, HttpRequest, HttpResponse, HttpResponseBase
from django.shortcuts import redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from intake.access.policy import Act, Audience
from intake.access.services import asked
from intake.errors import Refused
from intake.interviews.services import parts_of
from intake.narrator.forms import AgreeForm, CheckFileForm, CheckForm, ConsentForm, SignForm
from intake.narrator.opened import opened, permitted_paper, permitted_part
from intake.narrator.queries import file_told, paper_behind
from intake.outputs.access_copies import access_copy_of
from intake.outputs.issuing import own_papers
from intake.outputs.models import OutputKind
from intake.outputs.naming import ACCESS_ENDING, copy_name
from intake.outputs.papers import printed_form as printed_form_pdf
from intake.outputs.services import existing
from intake.releases import paper_forms, services
from intake.releases.links import live_link, note_opened
from intake.releases.models import Moment, PrintedForm, PrivateLink, Purpose, SigningSession, Wording
from intake.releases.services import SESSION_LASTS, Choices, Signature
from intake.releases.wordings import digest_of_text, filled, offered_to, wording_for
from intake.web.limits import address_of, count_miss, refuse_after_misses
from intake.web.middleware import forget
from intake.web.papers import paper_answer, pdf_answer
from intake.web.ranges import serve
from intake.web.refusals import refusals_as_messages, refusals_on

# A row's number has fewer digits; more would not fit the database.
MOST_DIGITS = 18
# Where the browser goes once a private link was opened.
OPENS = {Purpose.SIGN: "narrator:consent", Purpose.COPY: "narrator:copies", Purpose.HEAR: "narrator:hear"}


@login_not_required
def link(request: HttpRequest, token: str) -> HttpResponse:
    """A private link. Looking at it does nothing, since mail scanners open links; the button opens its one thing."""
    try:
        refuse_after_misses(request, "link")
        found = live_link(token)
    except Refused as refused:
        count_miss(request, "link")
        return render(request, "narrator/link_ended.html", {"reasons": refused.reasons}, status=410)
    reasons: tuple[str, ...] = ()
    if request.method == "POST":
        try:
            switched = _switched_to(found)
        except Refused as refused:
            reasons = refused.reasons
        else:
            # SECURITY: whoever is signed in on this device is not the one the link was sent to.
            logout(request)
            request.session.update({**switched, "by_link": True})
            request.session.set_expiry(int(SESSION_LASTS.total_seconds()))
            return forget(redirect(OPENS[Purpose(found.purpose)]))
    return render(request, "narrator/link.html", {"link": found, "reasons": reasons})


def _switched_to(found: PrivateLink) -> dict[str, int]:
    """What the browser is switched to. Raises Refused."""
    if found.purpose == Purpose.SIGN:
        return {"signing": services.open_by_link(found).pk}
    note_opened(found)
    return {found.purpose: found.pk}


@login_not_required
@require_safe
def copies(request: HttpRequest) -> HttpResponse:
    """A signer's copies of the recording, part by part."""
    found = opened(request, Purpose.COPY)
    if found is None:
        return _ended(request)
    interview = found.participant.interview
    answer = asked(Act.TAKE, interview, Audience.PARTY)
    parts = parts_of(interview) if answer.allowed else []
    context = {
        "link": found,
        "why_not": answer.because,
        "parts": [(part, access_copy_of(part)) for part in parts],
        "papers": own_papers(found.participant),
    }
    return render(request, "narrator/copies.html", context)


@login_not_required
@require_safe
def own_paper(request: HttpRequest, pk: int) -> HttpResponseBase:
    """A signer's own paper, as PDF or as a page, for whoever has no account."""
    return paper_answer(request, permitted_paper(opened(request, Purpose.COPY), pk))


@login_not_required
@require_safe
def copy_of_part(request: HttpRequest, pk: int) -> HttpResponseBase:
    part = permitted_part(opened(request, Purpose.COPY), pk, Act.TAKE)
    made = access_copy_of(part)
    if made is None:
        raise Http404("being made")
    return serve(request, made.file, download=True, name=copy_name(part, ACCESS_ENDING))


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
    """Read, in the language that the signer chooses; make one's choices, where it is a release; sign."""
    session = _session(request)
    if session is None:
        return _ended(request)
    if "consented_at" not in request.session:
        return redirect("narrator:consent")
    wording = _wording_read(request, session)
    text = filled(wording, session.participant)
    form = _form_to_sign(request, session, wording)
    if request.method == "POST" and request.POST.get("signing") != str(session.pk):
        # SECURITY: a page left open from somebody else's signing must not sign for the person who has the device now.
        return redirect("narrator:consent")
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            request.session["signed"] = _sign(request, session, form)
            return redirect("narrator:done")
    context = {
        "form": form,
        "session": session,
        "wording": wording,
        "text": text,
        "text_sha256": digest_of_text(text),
        "languages": offered_to(session.moment, session.participant.role),
    }
    return render(request, "narrator/sign.html", context)


@login_not_required
def paper(request: HttpRequest) -> HttpResponse:
    """Sign on paper instead: the form of this one signer, to print. The device then goes back."""
    session = _session(request)
    if session is None:
        return _ended(request)
    reasons: tuple[str, ...] = ()
    if request.method == "POST":
        try:
            language = request.POST.get("language", "")
            request.session["form"] = paper_forms.print_in_session(session.pk, language=language).pk
        except Refused as refused:
            reasons = refused.reasons
        else:
            return redirect("narrator:paper")
    return render(
        request,
        "narrator/paper.html",
        {
            "session": session,
            "printed_form": _printed_form(request, session),
            "reasons": reasons,
            "languages": offered_to(session.moment, session.participant.role),
        },
    )


@login_not_required
@require_safe
def printed_form(request: HttpRequest) -> HttpResponse:
    session = _session(request)
    form = _printed_form(request, session) if session else None
    if form is None:
        raise Http404("no form was made in this session")
    with refusals_as_messages(request):
        return pdf_answer(printed_form_pdf(form), f"form-{form.number}.pdf")
    return redirect("narrator:consent")


@login_not_required
@require_safe
def done(request: HttpRequest) -> HttpResponse:
    signed = _signed(request)
    if signed is None:
        return _ended(request)
    return render(request, "narrator/done.html", {"paper": existing(*signed), "by_link": "by_link" in request.session})


@login_not_required
@require_safe
def copy(request: HttpRequest) -> HttpResponseBase:
    """The signer's copy, in the session in which it was signed and nowhere else."""
    signed = _signed(request)
    paper = existing(*signed) if signed else None
    if paper is None:
        raise Http404("no copy yet")
    return paper_answer(request, paper, download=True)


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
    return render(request, "narrator/check.html", {"form": form, "file_form": CheckFileForm()})


@login_not_required
@require_POST
def check_file(request: HttpRequest) -> HttpResponse:
    """Whether a PDF file is, byte for byte, a paper that was made here. Nothing of it is kept."""
    form = CheckFileForm(request.POST, request.FILES)
    context: dict[str, object] = {"form": CheckForm(), "file_form": form}
    try:
        refuse_after_misses(request, "check-file")
    except Refused as refused:
        return render(request, "narrator/check.html", {**context, "reasons": refused.reasons}, status=429)
    if not form.is_valid():
        return render(request, "narrator/check.html", context, status=422)
    told = file_told(form.cleaned_data["paper"].read())
    if not told.is_ours:
        # SECURITY: reading a file that was made to be hard to read costs time, so nobody does it again and again.
        count_miss(request, "check-file")
    return render(request, "narrator/check.html", {**context, "told": told})


@login_not_required
@require_safe
def check_paper(request: HttpRequest, number: str) -> HttpResponse:
    """Whether a paper with this number was made here: no names, no titles."""
    try:
        refuse_after_misses(request, "check-paper")
    except Refused as refused:
        context = {"form": CheckForm(), "file_form": CheckFileForm(), "reasons": refused.reasons}
        return render(request, "narrator/check.html", context, status=429)
    paper = paper_behind(number)
    if paper is None:
        count_miss(request, "check-paper")
    status = 200 if paper else 404
    return render(
        request,
        "narrator/check.html",
        {"form": CheckForm(), "file_form": CheckFileForm(), "number": number, "paper": paper},
        status=status,
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


def _signed(request: HttpRequest) -> tuple[str, int] | None:
    """The paper of what was signed in this session; none for whoever has signed in since then."""
    signed = request.session.get("signed")
    return None if request.user.is_authenticated or not signed else (signed[0], signed[1])


def _wording_read(request: HttpRequest, session: SigningSession) -> Wording:
    """The wording that was sent back signed, or the one in the language asked for, or in the interview's."""
    role = session.participant.role
    sent = request.POST.get("wording", "")
    if sent.isdigit() and len(sent) < MOST_DIGITS:
        wording = Wording.objects.filter(pk=int(sent), moment=session.moment, role=role).first()
        if wording:
            return wording
    return wording_for(session.moment, role, request.GET.get("language") or session.participant.interview.language)


def _form_to_sign(request: HttpRequest, session: SigningSession, wording: Wording) -> AgreeForm:
    name = session.participant.person.name
    if session.moment == Moment.AGREEMENT:
        return AgreeForm(request.POST or None, signer=name)
    form = SignForm(request.POST or None, signer=name)
    form.ask_for_licence(is_offered=wording.offers_licences)
    return form


def _sign(request: HttpRequest, session: SigningSession, form: AgreeForm) -> tuple[str, int]:
    """Sign it; which paper the signer gets of it."""
    read = {"wording_id": form.cleaned_data["wording"], "text_sha256": form.cleaned_data["text_sha256"]}
    signature = _signature(request, form)
    if session.moment == Moment.AGREEMENT:
        agreement = services.agree(session.pk, **read, signature=signature)
        return OutputKind.AGREEMENT_COPY, agreement.pk
    release = services.sign(session.pk, **read, choices=_choices(form), signature=signature)
    return OutputKind.RELEASE_COPY, release.pk


def _printed_form(request: HttpRequest, session: SigningSession) -> PrintedForm | None:
    """The form made in this session for the person who has the device."""
    forms = PrintedForm.objects.select_related("wording", "participant")
    return forms.filter(pk=request.session.get("form", 0), participant=session.participant).first()


def _ended(request: HttpRequest) -> HttpResponse:
    if _signed(request):
        return redirect("narrator:done")
    return render(request, "narrator/ended.html", status=410)


def _choices(form: AgreeForm) -> Choices:
    data = form.cleaned_data
    return Choices(
        data["access"], data["closed_until"], data["closed_event"], data["licence"], name_withheld=data["name_withheld"]
    )


def _signature(request: HttpRequest, form: AgreeForm) -> Signature:
    return Signature(
        method=form.cleaned_data["method"],
        typed_name=form.cleaned_data["typed_name"],
        png=form.cleaned_data["png"],
        consented_at=datetime.fromisoformat(request.session["consented_at"]),
        address=address_of(request) or None,
        agent=request.headers.get("User-Agent", ""),
    )
