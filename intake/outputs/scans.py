"""Which form a scan or photo is of, by the QR code on it. A person still looks at it before it counts."""

import re

from intake.files import storage
from intake.outputs.paper.codes import addresses_on
from intake.releases.models import Scan

# The end of the address that stands in the code; the site may have moved since the form was printed.
NUMBER = re.compile(r"/check/(F-[0-9A-Z]{4}(?:-[0-9A-Z]{4})+)/?$")


def read_code(scan_id: int) -> Scan:
    """Note the number of the form whose code is on the picture. Doing it again changes nothing."""
    scan = Scan.objects.select_related("file", "signed_form__form").get(pk=scan_id)
    if scan.file is None or scan.form_read:
        return scan
    with storage.local_path(scan.file.key) as path:
        read = [NUMBER.search(said) for said in addresses_on(path, scan.file.media_type)]
    numbers = [found.group(1) for found in read if found]
    if numbers:
        scan.form_read = scan.signed_form.form.number if scan.signed_form.form.number in numbers else numbers[0]
        scan.save(update_fields=["form_read"])
    return scan
