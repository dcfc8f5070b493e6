"""Loads the demo through the same services and jobs that people and workers use, so that nothing in it is made up but the story."""

import base64
import hashlib
import io
import math
from datetime import date, timedelta

from django.conf import settings
from django.db import transaction
from django.utils import timezone
from PIL import Image, ImageDraw

from intake.accounts.models import User
from intake.files import uploads
from intake.files.models import Upload
from intake.interviews import services as interviews
from intake.interviews.models import Collection, Interview, Participant
from intake.interviews.services import Description, parts_of
from intake.jobs import services as jobs
from intake.jobs.models import Job, JobState
from intake.kits import services as kits
from intake.kits.models import Loan
from intake.local import demo_story as story
from intake.local.coordinator import open_first_account
from intake.local.demo_story import Account, Recording, Story
from intake.local.processes import Say
from intake.local.voices import wav
from intake.outputs.models import Output, OutputKind
from intake.outputs.services import site_url
from intake.people import services as people
from intake.releases import services as releases
from intake.releases.models import Access, Method
from intake.releases.services import Choices, Signature
from intake.web.words import role_of  # placeholder
