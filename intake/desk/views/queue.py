"""The queue: what waits for whom."""

from django.http import HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_safe

from intake.desk import queries, set_up
from intake.desk.forms import QueueForm
from intake.web.requests import SignedInRequest


@require_safe
def queue(request: SignedInRequest) -> HttpResponse:
    form = QueueForm(request.GET)
    filters = form.cleaned_data if form.is_valid() else {}
    kept = request.GET.copy()
    kept.pop("page", None)
    context = {
        "form": form,
        "notices": set_up.notices(request),
        "little_room": queries.little_room(),
        "views": queries.queue_views(),
        "forms_to_confirm": queries.forms_to_confirm(),
        "page": queries.queue_page(filters, request.GET.get("page")),
        "querystring": kept.urlencode(),
    }
    return render(request, "desk/queue/list.html", context)
