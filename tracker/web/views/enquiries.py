"""Enquiries of people without an account: the list, one of them, answered, deleted."""

from __future__ import annotations

from uuid import UUID

from django.contrib import messages
from django.core.paginator import Paginator
from django.http import HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_GET, require_POST

from tracker.accounts.middleware import ViewedRequest
from tracker.compliance import changes
from tracker.compliance.models import Enquiry
from tracker.web.views.paging import SIZE


@require_GET
def enquiry_list(request: ViewedRequest) -> HttpResponse:
    """Those that wait first, oldest of them on top; then the answered ones."""
    enquiries = Enquiry.objects.visible_to(request.viewer).for_list()
    page = Paginator(enquiries, SIZE).get_page(request.GET.get("page"))
    return render(request, "web/enquiries/list.html", {"page": page})


@require_GET
def enquiry(request: ViewedRequest, enquiry: UUID) -> HttpResponse:
    return render(
        request, "web/enquiries/detail.html", {"enquiry": _seen(request, enquiry)}
    )


@require_POST
def answer(request: ViewedRequest, enquiry: UUID) -> HttpResponse:
    seen = _seen(request, enquiry)
    changes.mark_enquiry_answered(request.viewer, seen, at=timezone.now())
    messages.success(request, "The enquiry is marked as answered.")
    return redirect("web:enquiry", seen.public_id)


@require_POST
def delete(request: ViewedRequest, enquiry: UUID) -> HttpResponse:
    seen = _seen(request, enquiry)
    changes.delete_enquiry(request.viewer, seen)
    messages.success(request, f"The enquiry of {seen.name} is deleted for good.")
    return redirect("web:enquiry-list")


def _seen(request: ViewedRequest, enquiry: UUID) -> Enquiry:
    mine = Enquiry.objects.visible_to(request.viewer).select_related("answered_by")
    return get_object_or_404(mine, public_id=enquiry)
