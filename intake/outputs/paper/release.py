"""A signer's own copy of a signed release or agreement: the wording word for word, the signature and its evidence."""

from dataclasses import dataclass
from datetime import date, datetime
from io import BytesIO
from itertools import groupby

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, HRFlowable, Image, PageBreak

from intake.outputs.paper import style, words
from intake.outputs.paper.fonts import gapped, note, printable, shown_elsewhere, undrawable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.signature import drawn_signature
from intake.outputs.paper.style import FIRST_ISSUE, Issue, Library, fact, heading, ours, text_fact, theirs

KIND = "Copy of a signed release"
AGREEMENT_KIND = "Copy of a signed agreement to take part"
SIGNATURE_WIDTH = 90 * mm
SIGNATURE_HEIGHT = 26 * mm
SCAN_HEIGHT = 190 * mm
METHODS = {"drawn": "Drawn by hand on the screen", "typed": "Typed in place of a drawn signature"}

CAUTION_SENTENCE = (
    "The library's own counsel adapts this wording to local law. This paper is a copy of what was signed; it gives no "
    "legal advice."
)
PARTIAL_SENTENCE = (
    "Some letters of this wording cannot be printed on this paper. The whole wording, word for word, stands on the web "
    "page whose address is at the top."
)
DIGEST_SENTENCE = (
    "The SHA-256 is a fingerprint of the wording exactly as it stood on the screen when it was signed. The library "
    "keeps the wording under the same fingerprint: if one letter were changed, the fingerprint would be another."
)
DIGEST_ON_PAPER_SENTENCE = (
    "The SHA-256 is a fingerprint of the wording exactly as it was printed on the form. The library keeps the wording "
    "under the same fingerprint: if one letter were changed, the fingerprint would be another."
)
SCANS_SENTENCE = (
    "The library keeps each scan as it was handed in, in two copies that are compared with its SHA-256. A picture on "
    "this paper is a smaller copy, for reading."
)


@dataclass(frozen=True)
class OnScreen:
    """A signature on the screen with its evidence; `method` is "drawn" or "typed".

    `opened_by` handed the device over, or sent the private link.
    """

    method: str
    typed_name: str
    signature_png: bytes | None
    signed_at: datetime
    consented_to_electronic_at: datetime
    address: str
    agent: str
    opened_by: str
    by_link: bool = False


@dataclass(frozen=True)
class ScannedPage:
    """One scan of a form signed on paper; `jpegs` are its pages to print, smaller, where they can be drawn."""

    name: str
    size: int
    sha256: str
    jpegs: tuple[bytes, ...]


@dataclass(frozen=True)
class OnPaper:
    """A signature on a printed form with its evidence."""

    form_number: str
    signed_on: date
    signed_by: str
    handed_in_by: str
    handed_in_at: datetime
    confirmed_by: str
    confirmed_at: datetime
    scans: tuple[ScannedPage, ...]


@dataclass(frozen=True)
class SignedRelease:
    """Everything that a signer's copy says; times carry their zone. An agreement has no restriction and no choices."""

    number: str
    check_url: str
    library: Library
    interview: str
    recorded_on: date
    place: str
    signer: str
    role: str
    wording_title: str
    wording_version: str
    wording_language: str
    wording_text: str
    wording_sha256: str
    restriction: str
    choices: tuple[str, ...]
    signature: OnScreen | OnPaper
    kind: str = KIND
    issue: Issue = FIRST_ISSUE


def release_pdf(release: SignedRelease) -> bytes:
    """The copy as a PDF; ValueError for a drawing that is no small PNG, a missing signature or a time without zone."""
    signature = release.signature
    _refuse_unsigned(signature)
    sheet = Sheet(
        kind=release.kind,
        number=release.number,
        title=f"{release.kind} {release.number}: {release.interview}",
        author=release.library.name,
        dated=signature.confirmed_at if isinstance(signature, OnPaper) else signature.signed_at,
        issue=release.issue,
    )
    return build(lambda: _story(release), sheet)


def _refuse_unsigned(signature: OnScreen | OnPaper) -> None:
    if isinstance(signature, OnPaper):
        if not signature.scans:
            raise ValueError("A signature on paper needs the scan of its form.")
        return
    if signature.method not in METHODS:
        raise ValueError(f"A release is signed by one of {', '.join(METHODS)}.")
    if signature.method == "drawn" and not signature.signature_png:
        raise ValueError("A drawn signature needs its drawing.")
    if signature.method == "typed" and (signature.signature_png or not signature.typed_name.strip()):
        raise ValueError("A typed signature is the name that was typed, without a drawing.")


def _story(release: SignedRelease) -> list[Flowable]:
    return [
        style.letterhead(
            release.library,
            number_label="Number",
            number=release.number,
            check_url=release.check_url,
            issue=release.issue,
        ),
        _band(release),
        *style.issued_again(release.issue),
        *_about(release),
        *_wording(release),
        *_choices(release),
        _restriction_and_signature(release),
        PageBreak(),
        *_evidence(release),
        *_scans(release.signature),
    ]


def _band(release: SignedRelease) -> Flowable:
    sentence = (
        f"The signer's own copy of what was agreed on {words.day(_signed_on(release.signature))}. Please keep it."
    )
    return style.band(release.kind, sentence, filled=False)


def _signed_on(signature: OnScreen | OnPaper) -> date:
    return signature.signed_on if isinstance(signature, OnPaper) else signature.signed_at.date()


def _about(release: SignedRelease) -> list[Flowable]:
    return [
        text_fact("Interview", release.interview, noun="title"),
        fact("Recorded on", words.day(release.recorded_on)),
        text_fact("Place", release.place, noun="place"),
        fact("Signed by", _signer(release)),
        fact("Wording", _wording_name(release)),
    ]


def _signer(release: SignedRelease) -> str:
    return f"{printable(release.signer)} ({printable(release.role, noun='role')})"


def _wording_name(release: SignedRelease) -> str:
    version = f"Version {release.wording_version}, language: {release.wording_language}"
    return f"{printable(release.wording_title, noun='title')}<br/>{printable(version, noun='version')}"


def _wording(release: SignedRelease) -> list[Flowable]:
    """The wording as it was signed. Passages that cannot be printed at all are counted, not shown as rows of gaps."""
    if not undrawable(release.wording_text):
        return [
            heading("What was signed, word for word"),
            *style.paragraphs(release.wording_text, "wording", noun="passage"),
        ]
    pieces: list[Flowable] = [heading("What was signed, as far as this paper can print it"), ours(PARTIAL_SENTENCE)]
    for legible, run in groupby(style.split_paragraphs(release.wording_text), key=lambda block: bool(gapped(block))):
        passages = list(run)
        if legible:
            pieces += style.paragraphs("\n\n".join(passages), "wording", noun="passage")
        else:
            pieces.append(style.marked_up(note(_left_out(len(passages)))))
    return pieces


def _left_out(count: int) -> str:
    if count == 1:
        return shown_elsewhere("passage")
    return f"These {count} passages are shown in full on the web page of this paper."


def _choices(release: SignedRelease) -> list[Flowable]:
    if not release.choices:
        return []
    chosen: list[Flowable] = [
        style.marked_up(printable(choice, noun="choice"), "list", bulletText="•") for choice in release.choices
    ]
    return [heading("Choices made"), *chosen]


def _restriction_and_signature(release: SignedRelease) -> Flowable:
    """Kept together, so that no signature stands on a page of its own."""
    signature = release.signature
    return style.together(
        *(
            [heading("Restriction"), *style.paragraphs(release.restriction, noun="restriction")]
            if release.restriction
            else []
        ),
        heading("Signature"),
        *(_by_hand(signature) if isinstance(signature, OnPaper) else _on_screen(release, signature)),
        ours(CAUTION_SENTENCE, "small"),
    )


def _by_hand(signature: OnPaper) -> list[Flowable]:
    signed = f"Signed by hand on the printed form {signature.form_number}, on {words.day(signature.signed_on)}."
    confirmed = (
        f"Confirmed from its scan by {printable(signature.confirmed_by)}, {words.moment(signature.confirmed_at)}."
    )
    return [ours(signed), style.marked_up(confirmed)]


def _on_screen(release: SignedRelease, signature: OnScreen) -> list[Flowable]:
    return [
        _drawing(signature.signature_png) if signature.signature_png else _typed(signature.typed_name),
        HRFlowable(width=SIGNATURE_WIDTH, thickness=0.8, color=style.INK, hAlign="LEFT", spaceBefore=2, spaceAfter=5),
        style.marked_up(_signer(release)),
        ours(f"{METHODS[signature.method]}, {words.exact_moment(signature.signed_at)}", "small"),
    ]


def _drawing(png: bytes) -> Flowable:
    picture = drawn_signature(png)
    scale = min(SIGNATURE_WIDTH / picture.width, SIGNATURE_HEIGHT / picture.height)
    clean = BytesIO()
    picture.save(clean, "PNG")
    return Image(clean, width=picture.width * scale, height=picture.height * scale, hAlign="LEFT")


def _typed(name: str) -> Flowable:
    return theirs(name, "text" if undrawable(name) else "typed_signature", noun="name")


def _evidence(release: SignedRelease) -> list[Flowable]:
    signature = release.signature
    recorded = f"{words.day(release.recorded_on)}<br/>{printable(release.place, noun='place')}"
    return [
        heading("Evidence of this signature"),
        text_fact("Interview", release.interview, noun="title"),
        fact("Recorded", recorded),
        fact("Signed by", _signer(release)),
        *(_paper_facts(signature) if isinstance(signature, OnPaper) else _screen_facts(signature)),
        fact("Wording", _wording_name(release)),
        fact("SHA-256 of the wording", "<br/>".join(words.digest_lines(release.wording_sha256)), "fact_digest"),
        ours(DIGEST_ON_PAPER_SENTENCE if isinstance(signature, OnPaper) else DIGEST_SENTENCE, "small"),
    ]


def _screen_facts(signature: OnScreen) -> list[Flowable]:
    typed = f": {printable(signature.typed_name)}" if signature.method == "typed" else ""
    return [
        fact("How", f"{METHODS[signature.method]}{typed}"),
        fact("Agreed to sign on screen", words.exact_moment(signature.consented_to_electronic_at)),
        fact("Signed at", words.exact_moment(signature.signed_at)),
        text_fact(
            "Private link sent by" if signature.by_link else "Device handed over by", signature.opened_by, noun="name"
        ),
        text_fact("Network address", signature.address, noun="address"),
        text_fact("Browser", signature.agent),
    ]


def _paper_facts(signature: OnPaper) -> list[Flowable]:
    return [
        text_fact("How", f"By hand on the printed form {signature.form_number}", noun="number"),
        text_fact("Name written on it", signature.signed_by, noun="name"),
        fact("Signed on", words.day(signature.signed_on)),
        fact("Handed in by", f"{printable(signature.handed_in_by)}<br/>{words.moment(signature.handed_in_at)}"),
        fact("Confirmed by", f"{printable(signature.confirmed_by)}<br/>{words.moment(signature.confirmed_at)}"),
    ]


def _scans(signature: OnScreen | OnPaper) -> list[Flowable]:
    """The scans of the signed form: each with its digest, and its pages where they can be printed."""
    if not isinstance(signature, OnPaper):
        return []
    titled = [[heading("Scans of the signed form")], *([] for _ in signature.scans[1:])]
    scans = [flowable for head, page in zip(titled, signature.scans, strict=True) for flowable in _scan(head, page)]
    return [*scans, ours(SCANS_SENTENCE, "small")]


def _scan(head: list[Flowable], page: ScannedPage) -> list[Flowable]:
    """What the file is stays with its first page."""
    told = [
        *head,
        fact("File", f"{printable(page.name)}<br/>{words.exact_bytes(page.size)}"),
        fact("SHA-256 of the file", "<br/>".join(words.digest_lines(page.sha256)), "fact_digest"),
    ]
    pictures = [_picture(jpeg) for jpeg in page.jpegs]
    return [style.together(*told, *pictures[:1]), *pictures[1:]]


def _picture(jpeg: bytes) -> Flowable:
    picture = Image(BytesIO(jpeg), hAlign="LEFT")
    scale = min(style.WIDTH / picture.imageWidth, SCAN_HEIGHT / picture.imageHeight)
    picture.drawWidth, picture.drawHeight = picture.imageWidth * scale, picture.imageHeight * scale
    return picture
