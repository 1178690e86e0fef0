"""Everything that anybody enters and a mail repeats, filled with whatever is given."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from datetime import UTC, datetime
from email import message_from_bytes
from email.message import EmailMessage
from email.policy import default
from html.parser import HTMLParser
from typing import Any, Final, cast

from hypothesis import strategies as st

from tracker.compliance.due import DueRow
from tracker.compliance.models import Event, Finding
from tracker.fleet.models import Engine, Owner
from tracker.watch import outbox
from tracker.watch.delivery.mails import mail_of
from tracker.watch.models import Message, MessageKind
from tracker.watch.telling.letters import Draft, letter_of
from tracker.watch.telling.reading import Item

AT: Final = datetime(2026, 11, 24, 9, 30, tzinfo=UTC)
FIELDS: Final = (
    *("owner", "station", "type", "serial", "registration", "aircraft_type"),
    *("number", "label", "publication", "issuer", "title", "description"),
    *("part", "reason", "missing", "note"),
)
PIECES: Final = (
    *(
        "\r\nBcc: x@y.example",
        "\n\n<b>",
        "\x00",
        "\u202e",
        "\u2028To: x",
        "=?utf-8?q?x?=",
    ),
    *(
        "<script>x</script>",
        '"><img src=x>',
        "{{ 7 }}",
        "{% now %}",
        "&lt;",
        "</style>",
    ),
    *(
        "<!--",
        "]]>",
        "a@b.example, c@d.example",
        "\t",
        "\x85",
        "\ufeff",
        "'",
        "\\",
        "%0a",
    ),
)
HOSTILE: Final = st.lists(
    st.sampled_from(PIECES) | st.text(max_size=12), min_size=1, max_size=5
).map("".join)
TEXTS: Final = st.fixed_dictionaries(dict.fromkeys(FIELDS, HOSTILE))
PLAIN: Final = dict.fromkeys(FIELDS, "plain")


def written(texts: Mapping[str, str], row: DueRow) -> Message:
    """Return a message about one finding whose every text is one of these, unsaved."""
    owner, item = _filled(texts, row)
    draft = Draft(
        kind=MessageKind.DIGEST,
        key="digest|1|2026-11-24",
        subject=f"{texts['type']}: {texts['number']} {texts['title']}",
        heading=texts["number"],
        lead="This has become so.",
        day="24 November 2026",
        items=[item, item],
        mandatory=True,
        all_mandatory=False,
        note=(texts["note"],),
    )
    letter = letter_of(draft, owner, hours_url=lambda *_: "https://t.example/hours/x/")
    return Message(
        address=letter.address,
        subject=outbox.one_line(letter.subject)[: outbox.LONGEST_SUBJECT],
        text=letter.text,
        html=letter.html,
        headers=letter.headers,
        message_id="<one@t.example>",
        created_at=AT,
    )


def _filled(texts: Mapping[str, str], row: DueRow) -> tuple[Owner, Item]:
    finding: Finding = row.finding
    engine: Engine = finding.engine
    engine.engine_type.designation = texts["type"]
    engine.serial = texts["serial"]
    engine.registration = texts["registration"]
    engine.aircraft_type = texts["aircraft_type"]
    provision = finding.provision
    provision.title = texts["title"]
    provision.description = texts["description"]
    provision.revision.label = texts["label"]
    publication = provision.revision.publication
    publication.number = texts["number"]
    publication.title = texts["publication"]
    publication.issuer = texts["issuer"]
    finding.reasons = [texts["reason"]]
    finding.missing = [texts["missing"]]
    owner = engine.owner
    assert owner is not None
    owner.name = texts["owner"]
    owner.station.name = texts["station"]
    said = {"title": texts["title"], "reasons": [texts["reason"]], "is_new": True}
    event = Event(kind="newly applies", engine=engine, provision=provision, said=said)
    filled = DueRow(finding=finding, due=row.due, word=row.word, part=texts["part"])
    return owner, Item(engine=engine, row=filled, events=(event,))


def parsed(message: Message) -> EmailMessage:
    return message_from_bytes(mail_of(message), policy=default)


def body_of(mail: EmailMessage, kind: str) -> str:
    part = mail.get_body(preferencelist=(kind,))
    assert part is not None
    return cast(str, part.get_content())


class _Tags(HTMLParser):
    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: Counter[str] = Counter()
        self.links: list[str] = []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, Any]]) -> None:
        self.found[tag] += 1
        self.links += [value for name, value in attrs if name in ("href", "src")]

    def handle_comment(self, data: str) -> None:
        self.found["comment"] += 1


def tags_of(html: str) -> Counter[str]:
    parser = _Tags()
    parser.feed(html)
    parser.close()
    return parser.found


def links_of(html: str) -> list[str]:
    parser = _Tags()
    parser.feed(html)
    return parser.links


def faults(message: Message, plain: Message) -> list[str]:
    """Return what a hostile text has brought about, beside the same mail of plain ones."""
    mail, other = parsed(message), parsed(plain)
    found = []
    if mail.keys() != other.keys():
        found.append(f"headers {mail.keys()}")
    if len(mail["To"].addresses) != 1 or len(mail["From"].addresses) != 1:
        found.append(f"addresses {mail['To']} {mail['From']}")
    if mail["From"].addresses[0].addr_spec != other["From"].addresses[0].addr_spec:
        found.append(f"from {mail['From']}")
    html = body_of(mail, "html")
    more = tags_of(html) - tags_of(body_of(other, "html"))
    if more.keys() - {"p", "br"}:  # a longer text has paragraphs of its own
        found.append(f"elements {more}")
    if set(links_of(html)) - set(links_of(body_of(other, "html"))):
        found.append(f"links {links_of(html)}")
    return found
