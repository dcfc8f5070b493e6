"""Describe an interview for the catalogue: its record's text, headings and people; then catalogue it."""

from django.contrib import messages
from django.http import Http404, HttpResponse, JsonResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_POST, require_safe

from intake import workflow
from intake.access.querysets import visible
from intake.catalogue import headings, services
from intake.catalogue.languages import suggested
from intake.catalogue.models import AccessPoint, Contributor, Heading
from intake.catalogue.rights import licence_chosen
from intake.catalogue.withheld import participants_of
from intake.desk.description_forms import ContributorForm, HeadingChoiceForm, PersonNameForm, RecordForm
from intake.desk.description_page import description_page
from intake.desk.forms import FindPersonForm
from intake.interviews.models import Interview
from intake.people import services as people
from intake.people.models import Person
from intake.web.once import once
from intake.web.refusals import refusals_as_messages, refusals_on
from intake.web.requests import SignedInRequest


def description(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    page = description_page(interview)
    form = RecordForm(request.POST or None, kept=page.said, licence=licence_chosen(participants_of(interview)))
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            services.describe(pk, said=form.said(), began=form.said_before(), actor=request.user)
            messages.success(request, "The record says so now.")
            return redirect("desk:description", pk=pk)
    context = {"page": page, "form": form, "heading_form": HeadingChoiceForm()}
    return render(request, "desk/description/detail.html", context, status=409 if form.conflicts else 200)


@require_POST
def catalogue(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.describe(interview.pk, actor=request.user)
        messages.success(request, "Catalogued. Whoever may know of it finds it now.")
    return redirect("desk:description", pk=pk)


@require_POST
def describe_again(request: SignedInRequest, pk: int) -> HttpResponse:
    interview = _interview(request, pk)
    with refusals_as_messages(request):
        workflow.describe_again(interview.pk, actor=request.user)
    return redirect("desk:description", pk=pk)


def heading_give(request: SignedInRequest, pk: int) -> HttpResponse:
    """By its name; where several are called so, or none, the page asks which is meant."""
    interview = _interview(request, pk)
    form = HeadingChoiceForm(request.POST or None)
    found: list[Heading] = []
    if request.method == "POST" and form.is_valid():
        found = _meant(form, request)
        if len(found) == 1:
            with refusals_on(form):
                services.give_heading(pk, heading=found[0], use=form.cleaned_data["use"], actor=request.user)
                return redirect(f"{reverse('desk:description', args=[pk])}#headings")
    typed = form["typed"].value() or ""
    context = {"interview": interview, "form": form, "found": found or headings.offered(typed), "typed": typed}
    return render(request, "desk/description/heading.html", context)


def _meant(form: HeadingChoiceForm, request: SignedInRequest) -> list[Heading]:
    given = form.cleaned_data
    if given["chosen"]:
        return [given["chosen"]]
    if given["new"]:
        with refusals_on(form):
            return [headings.add_own(given["typed"], kind=given["new"], actor=request.user)]
        return []
    return headings.named(given["typed"])


@require_POST
def heading_remove(request: SignedInRequest, pk: int) -> HttpResponse:
    point = get_object_or_404(AccessPoint, pk=pk, interview__in=visible(Interview, request.user))
    with refusals_as_messages(request):
        services.remove_heading(point.pk, actor=request.user)
    return redirect(f"{reverse('desk:description', args=[point.interview_id])}#headings")


def contributor_name(request: SignedInRequest, pk: int) -> HttpResponse:
    """Somebody who is known, found by name, or somebody new."""
    interview = _interview(request, pk)
    search = FindPersonForm(request.GET or None)
    form = ContributorForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            return once(request, lambda: _name(request, pk, form))
    found = people.find(search.cleaned_data["q"]) if search.is_bound and search.is_valid() else None
    context = {"interview": interview, "search": search, "form": form, "found": found}
    return render(request, "desk/description/contributor.html", context)


def _name(request: SignedInRequest, pk: int, form: ContributorForm) -> HttpResponse:
    given = form.cleaned_data
    if given["person"]:
        person = get_object_or_404(Person, pk=given["person"], merged_into=None)
        services.name_contributor(pk, person=person, role=given["role"], actor=request.user)
    else:
        services.name_somebody_new(
            pk, name=given["name"], catalogue_name=given["catalogue_name"], role=given["role"], actor=request.user
        )
    return redirect(f"{reverse('desk:description', args=[pk])}#people")


@require_POST
def contributor_remove(request: SignedInRequest, pk: int) -> HttpResponse:
    contributor = get_object_or_404(Contributor, pk=pk, interview__in=visible(Interview, request.user))
    with refusals_as_messages(request):
        services.remove_contributor(contributor.pk, actor=request.user)
    return redirect(f"{reverse('desk:description', args=[contributor.interview_id])}#people")


def person_name(request: SignedInRequest, pk: int, person: int) -> HttpResponse:
    """How the catalogue names somebody, come to from the interview whose record names them."""
    interview = _interview(request, pk)
    somebody = get_object_or_404(Person, pk=person, merged_into=None)
    initial = {name: getattr(somebody, name) for name in PersonNameForm.base_fields}
    form = PersonNameForm(request.POST or None, initial=initial)
    if request.method == "POST" and form.is_valid():
        with refusals_on(form):
            services.name_person(somebody.pk, actor=request.user, **form.cleaned_data)
            return redirect(f"{reverse('desk:description', args=[pk])}#people")
    return render(request, "desk/description/person.html", {"interview": interview, "person": somebody, "form": form})


@require_safe
def suggest(request: SignedInRequest, what: str) -> JsonResponse:
    """Names while somebody types, for the page's script: [{name, told}]."""
    typed = request.GET.get("typed", "")[:100]
    if what == "languages":
        return JsonResponse({"found": [{"name": name.replace(",", ""), "told": tag} for tag, name in suggested(typed)]})
    if what != "headings":
        raise Http404("nothing is suggested for that")
    found = [{"name": one.label, "told": str(one.authority)} for one in headings.offered(typed)]
    return JsonResponse({"found": found})


def _interview(request: SignedInRequest, pk: int) -> Interview:
    return get_object_or_404(visible(Interview, request.user).select_related("collection", "given_by"), pk=pk)
