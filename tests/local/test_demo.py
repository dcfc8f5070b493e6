"""The demo: loaded once into a folder of its own, then looked at from outside."""

import ast
import json
import re
import subprocess
import sys
from pathlib import Path

import pytest
from django.test import Client

from intake.local import demo_people, demo_story, recordings
from tests.local.alone import FOLDER, environment, manage

pytestmark = pytest.mark.processes

LOOK = "import json; from tests.local.demo_look import look; print(json.dumps(look()))"
# What audio_qc finds today in each interview, part by part (docs/demo.md promises the same); the rest is clean.
FINDINGS = {
    "Sylvie Marrable-Dene": [{"format-compressed"}],
    "Ada Thornquill and Ivy Thornquill": [{"channel-inverted"}],
    "Philippa Marsh-Tolland": [{"clipped-badly", "peaks-too-high", "speech-loud"}, {"hum"}],
    "Osbert Fallowdene": [{"channel-dead"}],
    "Henrietta Voss": [{"peaks-too-low", "speech-faint"}],
    "Constance Ambry": [{"dropout"}],
    "Wilhelmina Tarrow": [{"rumble"}],
}
CLEAN = {"Marit Oskarsen", "Gideon Roake", "Consuelo Vidarte", "Beatrix Collowen"}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """The environment of a loaded demo."""
    var_dir = tmp_path_factory.mktemp("demo")
    told = {
        "VAR_DIR": str(var_dir),
        "NUMBA_CACHE_DIR": str(var_dir / "numba"),
        "DJANGO_SETTINGS_MODULE": "intake.settings.demo",
        "SITE_URL": "http://127.0.0.1:8123",
    }
    assert manage("migrate", "--verbosity=0", **told).returncode == 0
    loaded = manage("load_demo", timeout=400, **told)
    assert loaded.returncode == 0, loaded.stderr
    told_of = re.findall(r"^ +(\d+) of (\d+)  Interview with", loaded.stdout, re.MULTILINE)
    assert told_of == [(str(number), str(len(told_of))) for number in range(1, len(told_of) + 1)], loaded.stdout
    return told


@pytest.fixture(scope="module")
def seen(demo: dict[str, str]) -> dict:
    shell = manage("shell", "--no-imports", "--command", LOOK, **demo)
    assert shell.returncode == 0, shell.stderr
    return json.loads(shell.stdout)


@pytest.fixture(scope="module")
def interviews(seen: dict) -> dict[str, dict]:
    """By narrators' names; the second conversation with a narrator stands for both."""
    return seen["interviews"]


# Stages


def test_there_is_an_interview_at_every_stage(seen: dict, interviews: dict) -> None:
    assert seen["count"] == demo_story.HOW_MANY == 18
    stages = {names: one["state"] for names, one in interviews.items()}
    assert stages == {
        "Marit Oskarsen": "accepted",
        "Gideon Roake": "accepted",
        "Sylvie Marrable-Dene": "accepted",
        "Lionel Pratchard": "declined",
        "Consuelo Vidarte": "accepted",
        "Beatrix Collowen": "withdrawn",
        "Constance Ambry": "returned",
        "Ada Thornquill and Ivy Thornquill": "accepted",
        "Philippa Marsh-Tolland": "in_review",
        "Osbert Fallowdene": "in_review",
        "Henrietta Voss": "submitted",
        "Edmund Quillfeather": "submitted",
        "Clement Fallowdene": "submitted",
        "Ada Thornquill": "submitted",
        "Selwyn Quillfeather": "draft",
        "Wilhelmina Tarrow": "draft",
        "Aurel Sandoval-Pike": "draft",
    }
    assert {one["collection"] for one in interviews.values()} == {demo_people.CROSSING, demo_people.MARKET}


def test_what_keeps_an_interview_waiting_is_what_its_chapter_says(interviews: dict) -> None:
    assert interviews["Osbert Fallowdene"]["missing"] == [], "ready to accept"
    assert interviews["Philippa Marsh-Tolland"]["missing"] == ["Part 1: “Clipping” is not answered."]
    assert interviews["Edmund Quillfeather"]["unsigned"] == 1
    assert interviews["Henrietta Voss"]["unsigned"] == 0
    assert interviews["Aurel Sandoval-Pike"]["parts"] == []
    assert interviews["Consuelo Vidarte"]["taken_out"] == 1
    assert interviews["Consuelo Vidarte"]["language"] == "es"


def test_a_part_that_is_half_sent_can_be_gone_on_with_from_the_card(demo: dict[str, str], interviews: dict) -> None:
    arrived, on_its_way = interviews["Wilhelmina Tarrow"]["parts"]
    assert arrived["safe"]
    assert 0.3 < on_its_way["share"] < 0.7
    on_card = Path(demo["VAR_DIR"]) / "card"
    assert {path.name for path in on_card.iterdir()} == {on_its_way["name"], "REC_0032.WAV"}


def test_restrictions_differ(interviews: dict) -> None:
    said = {names: one["restriction"] for names, one in interviews.items() if one["state"] == "accepted"}
    assert said["Marit Oskarsen"] == "Open: anyone may hear it."
    assert said["Gideon Roake"].startswith("Closed until 1 Jan 2056")
    assert said["Sylvie Marrable-Dene"].endswith("The narrator's name is withheld.")
    assert said["Ada Thornquill and Ivy Thornquill"].startswith("On site only")


# Papers, attachments, the counter, the back-log


def test_one_release_was_signed_on_paper_and_confirmed_and_another_form_waits(seen: dict, interviews: dict) -> None:
    decided, waiting = seen["forms"]
    assert decided == {
        "signer": "Gideon Roake", "state": "confirmed", "decided_by": demo_people.PETRA.name, "safe": [True],
    }  # fmt: skip
    assert seen["signed_on_paper"] == ["Gideon Roake"]
    assert waiting == {"signer": "Wilhelmina Tarrow", "state": "waiting", "decided_by": "", "safe": [True]}
    assert interviews["Wilhelmina Tarrow"]["unsigned"] > 0, "a form that waits is not yet a release"


def test_attachments_came_with_captions_and_rights_notes(interviews: dict) -> None:
    attached = {names: one["attachments"] for names, one in interviews.items() if one["attachments"]}
    assert {names: [(each["kind"], each["type"]) for each in those] for names, those in attached.items()} == {
        "Marit Oskarsen": [("photograph", "image/jpeg")],
        "Henrietta Voss": [("field-notes", "text/plain")],
    }
    assert all(each["caption"] and each["rights"] and each["safe"] for those in attached.values() for each in those)
    assert interviews["Marit Oskarsen"]["state"] == "accepted"
    assert interviews["Henrietta Voss"]["state"] == "submitted"


def test_somebody_without_an_account_brought_a_card_to_the_counter(interviews: dict) -> None:
    brought = interviews["Clement Fallowdene"]
    assert (brought["given_by"], brought["giver_has_account"]) == (demo_people.HESTER[0], False)
    assert brought["owner"] == demo_people.INES.name
    assert len(brought["arrivals"]) == 1
    assert brought["unsigned"] == 1, "the narrator was not at the counter"


def test_an_acceptance_was_undone_by_two_people_and_its_number_is_spent(interviews: dict) -> None:
    spent, anew = interviews["Marit Oskarsen"]["accessions"]
    assert (spent["number"], spent["undone"]) == ("2026-0002", True)
    assert (spent["proposed_by"], spent["undone_by"]) == (demo_people.INES.name, demo_people.CORIN.name)
    assert (anew["number"], anew["undone"], anew["proposed_by"]) == ("2026-0003", False, "")
    assert (spent["attachments"], anew["attachments"]) == (0, 1), "the reason for which it was undone"


def test_to_undo_another_acceptance_is_proposed_and_waits_for_a_second_person(interviews: dict) -> None:
    open_proposals = {
        names: each["proposed_by"]
        for names, one in interviews.items()
        for each in one["accessions"]
        if each["proposed_by"] and not each["undone"]
    }
    assert open_proposals == {"Ada Thornquill and Ivy Thornquill": demo_people.PETRA.name}
    assert interviews["Ada Thornquill and Ivy Thornquill"]["state"] == "accepted"


def test_what_was_handed_in_again_has_an_arrival_receipt_that_replaces_the_first(interviews: dict) -> None:
    (first, nothing), (second, replaced) = interviews["Marit Oskarsen"]["arrivals"]
    assert nothing is None
    assert replaced == first != second


def test_a_message_that_came_back_is_still_to_be_dealt_with(seen: dict) -> None:
    [(to, state, told)] = seen["troubled"]
    assert (to, state) == ("henrietta.voss@example.org", "bounced")
    assert "no such mailbox" in told


def test_one_narrator_was_noted_twice_and_waits_to_be_merged(seen: dict) -> None:
    # Ada Thornquill is not: the back-log's CSV gives her address, by which she was known.
    assert seen["twins"] == [["Marit Oskarsen", "Marit Oskarsen"]]


def test_a_backlog_was_taken_in_as_far_as_it_goes(seen: dict, interviews: dict) -> None:
    (handed_in, nothing), (draft, note) = seen["backlog"]
    assert (handed_in, nothing) == ("submitted", "")
    assert draft == "draft"
    assert "Name the interviewer." in note
    assert interviews["Ada Thornquill"]["recorded_on"] == "1994-06-03"
    assert interviews["Selwyn Quillfeather"]["parts"][0]["safe"]


# Work and time


def test_every_part_was_kept_twice_and_measured_by_the_real_work(seen: dict, interviews: dict) -> None:
    parts = [part for one in interviews.values() for part in one["parts"] if "share" not in part]
    assert all(part["safe"] for part in parts)
    assert seen["jobs"] == ["done"]
    assert seen["unsent"] == 0
    # The narrator of two interviews is seen once, and a part taken out has its copy too.
    assert seen["outputs"].count("listening-copy") == len(parts) + 2
    # Six stand, and the one that was undone keeps its own.
    assert seen["outputs"].count("receipt") == 6 + 1
    assert seen["outputs"].count("arrival-receipt") == seen["arrivals"] > 6
    # One narrator was thanked; whoever had an interview sent back or declined has it on paper too.
    assert seen["outputs"].count("letter") == 1 + seen["turned_away"]
    assert seen["outputs"].count("quality-report") >= 6


def test_its_events_stand_in_the_order_of_their_days(seen: dict) -> None:
    assert seen["events"] == sorted(seen["events"])
    assert seen["events"][0].startswith("2026-03-02")
    assert len({moment[:10] for moment in seen["events"]}) > 20


def test_its_chain_of_events_is_whole_once_sealed(demo: dict[str, str], seen: dict) -> None:
    code = "from intake.audit.services import seal_pending; print(seal_pending())"
    assert int(manage("shell", "--no-imports", "--command", code, **demo).stdout) == len(seen["events"])
    assert "The chain is whole" in manage("verify_events", **demo).stdout


# Sound


def test_every_fault_is_found_where_its_chapter_says_and_nowhere_else(interviews: dict) -> None:
    found = {
        names: [set(part["found"]) for part in one["parts"] if "share" not in part] for names, one in interviews.items()
    }
    assert {names: parts for names, parts in found.items() if any(parts)} == FINDINGS


def test_clean_recordings_are_good(interviews: dict) -> None:
    assert {part["standing"] for names in CLEAN for part in interviews[names]["parts"]} == {"good"}
    assert interviews["Edmund Quillfeather"]["parts"][0]["noted"] == ["format-accepted", "long-silence"]
    assert interviews["Lionel Pratchard"]["parts"][0]["noted"] == ["rumble-thumps"]


def test_only_the_laughter_is_clipped(interviews: dict) -> None:
    part = interviews["Philippa Marsh-Tolland"]["parts"][0]
    # Two laughs, in the second half: the script has them after its fourth and after its fifth line.
    assert part["spans"]
    assert min(part["spans"]) > 0.4 * part["seconds"]
    assert max(part["spans"]) < 0.85 * part["seconds"]


def test_dropouts_are_found_where_the_library_says_in_its_message(interviews: dict) -> None:
    assert interviews["Constance Ambry"]["parts"][0]["spans"] == pytest.approx([17.0, 31.0], abs=0.01)


# People and kits


def test_its_people_are_invented(seen: dict) -> None:
    assert seen["people"] == ["archivist", "archivist", "coordinator", "volunteer", "volunteer", "volunteer"]
    assert all(address.endswith("@example.org") for address in [*seen["addresses"], *seen["mail_to"]] if address)
    assert seen["open_invitations"] == [demo_people.NOT_YET_JOINED[1]]


def test_some_kits_are_out_and_one_is_overdue(seen: dict) -> None:
    assert seen["kits"] == 8
    assert seen["out"] == ["AF-02", "AF-04", "AF-07"]
    assert seen["overdue"] == ["AF-04"]
    assert (seen["back"], seen["codes_used"]) == (2, 1)


def test_everybody_listed_for_a_newcomer_can_sign_in(demo: dict[str, str]) -> None:
    code = (
        "from django.contrib.auth.hashers import check_password as right; from intake.accounts.models import User; "
        "from intake.local import demo_people as p; from intake.local.demo import sign_ins; "
        "print([right(p.PASSWORD, User.objects.get(email=a.email, role=a.role).password) for a in p.ACCOUNTS]); "
        "print(*sign_ins('http://127.0.0.1:8123/'), sep='\\n')"
    )
    shell = manage("shell", "--no-imports", "--command", code, **demo)
    assert shell.stdout.startswith(str([True] * len(demo_people.ACCOUNTS))), shell.stderr
    assert all(account.email in shell.stdout for account in demo_people.ACCOUNTS)
    assert re.search(r"Kit AF-07 is lent to Nell Ardwick. Its code \w{4}-\w{4} opens http://127", shell.stdout)
    assert str(Path(demo["VAR_DIR"]) / "card") in shell.stdout


def test_the_sign_in_page_signs_a_newcomer_in_with_one_click(demo: dict[str, str]) -> None:
    code = """
import re
from django.test import Client
from intake.accounts.models import User
from intake.local.demo_people import ACCOUNTS
for account in ACCOUNTS:
    browser = Client(headers={"host": "127.0.0.1"})
    page = browser.get("/account/login/").content.decode()
    form = next(each for each in re.findall("<form.*?</form>", page, re.DOTALL) if f"as {account.first_name}" in each)
    fields = dict(re.findall('name="(login|password)" value="(.*?)"', form))
    browser.post("/account/login/", fields)
    print(User.objects.get(pk=browser.session["_auth_user_id"]).email)
"""
    assert manage("collectstatic", "--no-input", "--verbosity=0", **demo).returncode == 0
    shell = manage("shell", "--no-imports", "--command", code, **demo)
    assert shell.stdout.split() == [account.email for account in demo_people.ACCOUNTS], shell.stderr


@pytest.mark.django_db
def test_a_real_site_offers_nobody_a_way_in(client: Client) -> None:
    page = client.get("/account/login/").content.decode()
    assert "Sign in" in page
    assert demo_people.PASSWORD not in page
    assert "example.org" not in page.partition("<main")[2].partition("</main>")[0]


def test_links_in_its_messages_lead_to_the_address_that_was_told(demo: dict[str, str]) -> None:
    mails = [path.read_text() for path in (Path(demo["VAR_DIR"]) / "mail").iterdir()]
    assert len(mails) >= 30
    assert any("http://127.0.0.1:8123/" in mail for mail in mails)
    assert not any("127.0.0.1:8000" in mail for mail in mails)


# Loading


def test_it_is_loaded_into_an_empty_database_only(demo: dict[str, str], seen: dict) -> None:
    again = manage("load_demo", **demo)
    assert again.returncode != 0
    assert "an empty one only" in again.stderr


def test_it_is_not_loaded_into_a_real_site(tmp_path: Path) -> None:
    real = {"VAR_DIR": str(tmp_path), "DJANGO_SETTINGS_MODULE": "intake.settings.local"}
    assert manage("migrate", "--verbosity=0", **real).returncode == 0
    refused = manage("load_demo", **real)
    assert refused.returncode != 0
    assert "This is not the demo" in refused.stderr


def test_an_interrupted_load_is_told_from_a_finished_one(demo: dict[str, str], tmp_path: Path) -> None:
    code = "from intake.local import demo; print(demo.is_half_loaded(), demo.is_loaded())"
    finished = manage("shell", "--no-imports", "--command", code, **demo)
    assert finished.stdout.split() == ["False", "True"]
    told = demo | {"VAR_DIR": str(tmp_path)}
    assert manage("migrate", "--verbosity=0", **told).returncode == 0
    with subprocess.Popen(
        [sys.executable, "manage.py", "load_demo"],
        cwd=FOLDER,
        env=environment(**told),
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
    ) as loading:
        assert loading.stdout is not None
        next(line for line in loading.stdout if "1 of" in line)
        loading.kill()
    broken = manage("shell", "--no-imports", "--command", code, **told)
    assert broken.stdout.split() == ["True", "False"]


# What is kept in the project


def test_the_speech_stays_small_and_every_piece_has_its_script_and_its_place() -> None:
    pieces = {path.stem for path in recordings.SPEECH.glob("*.ogg")}
    assert pieces == {path.stem for path in recordings.SPEECH.glob("*.txt")}
    assert sum(path.stat().st_size for path in recordings.SPEECH.iterdir()) < 4_000_000
    told = {
        node.args[0].value
        for chapters in (FOLDER / "intake/local").glob("demo_*.py")
        for node in ast.walk(ast.parse(chapters.read_text()))
        if isinstance(node, ast.Call) and ast.unparse(node.func) == "sound.recorded"
    }
    assert told == pieces


def test_no_address_in_its_sources_leads_anywhere() -> None:
    sources = [*(FOLDER / "intake/local").glob("demo*.py"), *recordings.SPEECH.glob("*.txt"), FOLDER / "docs/demo.md"]
    hosts = {host for path in sources for host in re.findall(r"[\w.+-]+@([\w.-]+\w)", path.read_text())}
    assert hosts == {"example.org", "alderferry.example.org"}
