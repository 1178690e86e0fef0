"""The library of service documents: publications, their revisions, what each says.

A publication belongs to a station, which is named by a setting only. Nothing here
knows of engines. Findings come from `Provision.objects.in_force(on)`: the provisions
of `Revision.objects.current(on)`.
"""

from notices.models.documents import Document
from notices.models.provisions import Provision, RuleVersion
from notices.models.publications import Kind, Publication
from notices.models.revisions import Reference, Revision, RevisionStanding

__all__ = [
    "Document",
    "Kind",
    "Provision",
    "Publication",
    "Reference",
    "Revision",
    "RevisionStanding",
    "RuleVersion",
]
