"""What is drawn for the demo in place of a pen and a camera: signatures, a signed form, a photograph."""

import hashlib
import io
import math
from datetime import date

import numpy as np
from PIL import Image, ImageDraw, ImageFilter, ImageOps

from intake.releases.models import Access, PrintedForm
from intake.releases.paper_forms import Typed
from intake.releases.services import Choices

INK, PRINT, FAINT = (24, 30, 54), (34, 32, 28), (150, 146, 138)


def signature(name: str) -> bytes:
    """A running line, different for every name: a PNG on a transparent ground."""
    return _encoded(_scrawl(name), "PNG")


def signed_form(form: PrintedForm, written: Typed) -> bytes:
    """A photo of a form signed by hand, a JPEG: its number, words as grey lines, ticks, signature, name and day."""
    page = Image.new("RGB", (1240, 1754), (250, 247, 238))
    drawn = ImageDraw.Draw(page)
    drawn.text((110, 110), f"Release form {form.number}\n{form.signer}", fill=PRINT, font_size=40)
    for line in range(20):
        drawn.line([(110, 280 + 36 * line), (1080 - 47 * (line * 7 % 5), 280 + 36 * line)], fill=FAINT, width=8)
    for place, (label, is_ticked) in enumerate(_boxes(written.choices) if written.choices else []):
        top = 1050 + 62 * place
        drawn.rectangle([(110, top), (144, top + 34)], outline=PRINT, width=3)
        drawn.text((180, top), label, fill=PRINT, font_size=30)
        if is_ticked:
            drawn.line([(114, top + 16), (126, top + 30), (152, top - 10)], fill=INK, width=6)
    scrawl = _scrawl(written.signed_by)
    page.paste(scrawl, (200, 1400), scrawl)
    drawn.line([(110, 1590), (1080, 1590)], fill=PRINT, width=3)
    drawn.text((110, 1605), written.signed_by, fill=INK, font_size=30)
    drawn.text((860, 1605), _day(written.signed_on), fill=INK, font_size=30)
    return _encoded(page.rotate(1.2, expand=True, fillcolor=(96, 84, 70)), "JPEG")


def ferry_photograph() -> bytes:
    """The cable ferry on the river, the new bridge behind it: an old brown print with a white border. A JPEG."""
    width, height, water = 1500, 1000, 560
    grey = np.tile(np.linspace(232, 190, height)[:, None], (1, width))
    picture = Image.fromarray(grey.astype(np.uint8))
    drawn = ImageDraw.Draw(picture)
    _hills(drawn, width, water)
    _bridge(drawn, width, water)
    _river(drawn, width, height, water)
    picture = picture.filter(ImageFilter.GaussianBlur(2.2))
    _ferry(ImageDraw.Draw(picture), water)
    grain = np.random.default_rng(1963).normal(0, 7, (height, width))
    grainy = np.clip(np.asarray(picture.filter(ImageFilter.GaussianBlur(0.8))) + grain, 0, 255).astype(np.uint8)
    brown = ImageOps.colorize(Image.fromarray(grainy), black=(44, 30, 20), white=(247, 236, 212))
    return _encoded(ImageOps.expand(brown, border=50, fill=(250, 247, 240)), "JPEG")


def _scrawl(name: str) -> Image.Image:
    seed = hashlib.sha256(name.encode()).digest()
    image = Image.new("RGBA", (600, 200), (0, 0, 0, 0))
    turns = [(1 + byte % 5, byte / 40) for byte in seed[:3]]
    line = []
    for step in range(400):
        at = step / 400
        swing = sum(math.sin(2 * math.pi * speed * 3 * at + start) for speed, start in turns) / len(turns)
        loop = 14 * math.cos(2 * math.pi * 9 * at + turns[0][1])
        line.append((50 + 480 * at + loop, 105 - 55 * swing * (1 - 0.6 * at)))
    ImageDraw.Draw(image).line(line, fill=(*INK, 255), width=4, joint="curve")
    return image


def _boxes(chosen: Choices) -> list[tuple[str, bool]]:
    """The boxes as they stand on the form, and which of them are ticked."""
    until = f": {_day(chosen.closed_until)}" if chosen.closed_until else ""
    access = [
        (each.label.partition(":")[0] + (until if each == Access.CLOSED else ""), chosen.access == each)
        for each in Access
    ]
    return [
        *access,
        ("My name may be shown.", not chosen.name_withheld),
        ("Withhold my name.", chosen.name_withheld),
    ]


def _day(day: date) -> str:
    return f"{day.day} {day:%B %Y}"


def _hills(drawn: ImageDraw.ImageDraw, width: int, water: int) -> None:
    for shade, lift, swell, turn in ((172, 150, 42, 0.6), (146, 92, 30, 2.4)):
        line = [
            (x, water - lift - swell * math.sin(x / 210 + turn) - swell / 2 * math.sin(x / 83))
            for x in range(0, width + 10, 10)
        ]
        drawn.polygon([(0, water), *line, (width, water)], fill=shade)


def _bridge(drawn: ImageDraw.ImageDraw, width: int, water: int) -> None:
    deck = water - 118
    drawn.rectangle([(0, deck), (width, deck + 16)], fill=104)
    for middle in range(0, width + 1, 300):
        drawn.rectangle([(middle - 13, deck), (middle + 13, water + 4)], fill=98)
        drawn.arc([(middle, deck + 12), (middle + 300, deck + 208)], 180, 360, fill=104, width=9)
    for post in range(0, width, 30):
        drawn.line([(post, deck - 22), (post, deck)], fill=112, width=3)
    drawn.line([(0, deck - 22), (width, deck - 22)], fill=112, width=4)


def _river(drawn: ImageDraw.ImageDraw, width: int, height: int, water: int) -> None:
    random = np.random.default_rng(11)
    for y in range(water, height):
        near = (y - water) / (height - water)
        drawn.line([(0, y), (width, y)], fill=round(186 - 62 * near))
    for _ in range(420):
        near = random.random() ** 1.4
        x, y = random.uniform(-60, width), water + 6 + near * (height - water)
        light = 205 if random.random() < 0.6 else 118
        drawn.line([(x, y), (x + 24 + 120 * near, y + random.uniform(-2, 2))], fill=light, width=1 + round(3 * near))


def _ferry(drawn: ImageDraw.ImageDraw, water: int) -> None:
    """A flat boat with a hut, a rail, people and a dog, drawn along its cable."""
    left, deck = 470, water + 112
    drawn.line([(0, deck - 66), (left + 60, deck - 48), (left + 560, deck - 48), (1500, deck - 70)], fill=46, width=4)
    for step in range(26):  # its shadow on the water
        y = deck + 52 + step * 4
        drawn.line([(left + 30 + step * 5, y), (left + 590 - step * 7, y)], fill=96)
    drawn.polygon(
        [(left, deck), (left + 620, deck), (left + 575, deck + 52), (left + 45, deck + 52)], fill=52, outline=34
    )
    drawn.line([(left + 14, deck + 16), (left + 606, deck + 16)], fill=150, width=5)
    drawn.rectangle([(left + 250, deck - 120), (left + 360, deck)], fill=120, outline=44, width=4)
    drawn.polygon([(left + 236, deck - 120), (left + 305, deck - 160), (left + 374, deck - 120)], fill=58)
    drawn.rectangle([(left + 282, deck - 96), (left + 326, deck - 56)], fill=214, outline=44, width=3)
    for post in range(left + 20, left + 610, 48):
        drawn.line([(post, deck - 40), (post, deck)], fill=60, width=4)
    drawn.line([(left + 10, deck - 40), (left + 610, deck - 40)], fill=60, width=5)
    for x, tall in ((90, 92), (136, 84), (172, 60), (430, 90), (520, 96)):
        drawn.rounded_rectangle([(left + x, deck - tall + 20), (left + x + 26, deck)], radius=9, fill=40)
        drawn.ellipse([(left + x + 3, deck - tall), (left + x + 23, deck - tall + 22)], fill=70)
    drawn.rounded_rectangle([(left + 466, deck - 22), (left + 500, deck - 8)], radius=6, fill=40)
    drawn.ellipse([(left + 494, deck - 32), (left + 510, deck - 16)], fill=40)


def _encoded(image: Image.Image, kind: str) -> bytes:
    file = io.BytesIO()
    image.save(file, kind, **({"quality": 82} if kind == "JPEG" else {}))
    return file.getvalue()
