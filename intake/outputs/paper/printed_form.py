"""A release or agreement to be signed by hand: its words, the choices of a release as boxes, and lines to sign on."""

from dataclasses import dataclass
from datetime import date, datetime

from reportlab.lib.units import mm
from reportlab.platypus import Flowable, HRFlowable, Table

from intake.outputs.paper import style, words
from intake.outputs.paper.fonts import printable, undrawable
from intake.outputs.paper.pages import Sheet, build
from intake.outputs.paper.style import Library, fact, heading, ours, text_fact

KIND = "Release form"
AGREEMENT_KIND = "Agreement form"
BOX = "\N{BALLOT BOX}"
LINE_HEIGHT = 13 * mm

LEAD_SENTENCE = (
    "For signing by hand. Please read it, ask about anything that is not clear, tick your choices, sign, and give it "
    "back to the person who gave it to you."
)
AGREEMENT_LEAD_SENTENCE = (
    "For signing by hand, before the recording. Please read it, ask about anything that is not clear, sign, and give "
    "it back to the person who gave it to you. What may be done with the recording you decide after it, by a release."
)
HAND_BACK_SENTENCE = (
    "The library keeps a photo or scan of every page of this form. It counts once the library's staff have looked at "
    "that scan and confirmed it; the signer then gets a copy."
)
CAUTION_SENTENCE = (
    "For a minor, or an adult who cannot consent alone, local law says who signs: ask the library before signing. The "
    "library's own counsel adapts this wording to local law; this form gives no legal advice."
)
DIGEST_SENTENCE = "The SHA-256 is a fingerprint of the wording above, under which the library keeps the same text."


class NotPrintable(ValueError):
    """A wording that the papers' fonts cannot draw whole: nobody may sign what they could not read."""


@dataclass(frozen=True)
class FormToSign:
    """Everything that a form to be signed by hand says; `choices` are the answers to "who may hear it".

    An agreement has no choices. `wording_itself` is the wording before the names of this interview are filled in.
    """

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
    wording_itself: str
    wording_text: str
    wording_sha256: str
    choices: tuple[str, ...]
    closed_choice: str
    licences: tuple[str, ...]
    printed_at: datetime

    @property
    def is_agreement(self) -> bool:
        return not self.choices

    @property
    def kind(self) -> str:
        return AGREEMENT_KIND if self.is_agreement else KIND


def printed_form_pdf(form: FormToSign) -> bytes:
    """The form as a PDF. Raises NotPrintable, and ValueError for a time without zone."""
    # A name that cannot be printed whole is written by hand beside the signature; the wording itself must be readable.
    if undrawable(form.wording_itself):
        raise NotPrintable(f"The wording of form {form.number} has letters that cannot be printed here.")
    sheet = Sheet(
        kind=form.kind,
        number=form.number,
        title=f"{form.kind} {form.number}: {form.interview}",
        author=form.library.name,
        dated=form.printed_at,
    )
    return build(lambda: _story(form), sheet)


def _story(form: FormToSign) -> list[Flowable]:
    return [
        style.letterhead(form.library, number_label="Form number", number=form.number, check_url=form.check_url),
        style.band(form.kind, AGREEMENT_LEAD_SENTENCE if form.is_agreement else LEAD_SENTENCE, filled=False),
        *_about(form),
        heading("What you sign"),
        *style.paragraphs(form.wording_text, "wording", noun="passage"),
        *([] if form.is_agreement else [_choices(form)]),
        _signature(form),
    ]


def _about(form: FormToSign) -> list[Flowable]:
    version = f"Version {form.wording_version}, language: {form.wording_language}"
    return [
        text_fact("Interview", form.interview, noun="title"),
        fact("Recorded on", words.day(form.recorded_on)),
        text_fact("Place", form.place, noun="place"),
        fact("For", f"{printable(form.signer)} ({printable(form.role, noun='role')})"),
        fact("Wording", f"{printable(form.wording_title, noun='title')}<br/>{printable(version, noun='version')}"),
    ]


def _choices(form: FormToSign) -> Flowable:
    """Nothing is ticked beforehand."""
    return style.together(
        heading("Your choices"),
        ours("Who may hear the recording? Tick one."),
        *(_box(choice) for choice in form.choices),
        _box(f"{form.closed_choice} Closed until, at the latest (day, month, year):  ____________________"),
        ours("If something ends the closure earlier, write what:  ________________________________________"),
        *_licences(form),
        ours("May the library show your name? Tick one."),
        _box("My name may be shown."),
        _box("Withhold my name. My voice and what I tell may still let people know me."),
    )


def _licences(form: FormToSign) -> list[Flowable]:
    if not form.licences:
        return []
    return [
        ours("Only where it is open: may others use it without asking the library? Tick one."),
        _box("No public licence: whoever wants to use it asks the library."),
        *(_box(licence) for licence in form.licences),
        ours("A Creative Commons licence can never be taken back.", "small"),
    ]


def _box(label: str) -> Flowable:
    return style.marked_up(printable(label, noun="choice"), "tick", bulletText=BOX)


def _signature(form: FormToSign) -> Flowable:
    """Kept together, so that nobody signs a page that holds nothing else."""
    return style.together(
        heading("Your signature"),
        ours(f"I have read the {'agreement' if form.is_agreement else 'release'} above, and I sign it."),
        Table(
            [[_line("Name in capital letters"), _line("Day, month, year")]],
            colWidths=(style.WIDTH * 0.62, style.WIDTH * 0.38),
            style=[*style.PLAIN_TABLE, ("RIGHTPADDING", (0, 0), (0, 0), 8 * mm)],
        ),
        *_line("Signature"),
        style.gap(4),
        ours(HAND_BACK_SENTENCE, "small"),
        ours(CAUTION_SENTENCE, "small"),
        fact("SHA-256 of the wording", "<br/>".join(words.digest_lines(form.wording_sha256)), "fact_digest"),
        ours(DIGEST_SENTENCE, "small"),
    )


def _line(label: str) -> list[Flowable]:
    return [
        style.gap(LINE_HEIGHT),
        HRFlowable(width="100%", thickness=0.8, color=style.INK, spaceBefore=0, spaceAfter=2),
        ours(label, "small"),
    ]
