import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


def the_owner_gave_it(apps, schema_editor):
    """Until now everybody handed in what they had recorded themselves."""
    person = apps.get_model("people", "Person")
    for interview in apps.get_model("interviews", "Interview").objects.select_related("owner"):
        known = {"name": interview.owner.name, "email": interview.owner.email}
        interview.given_by, _ = person.objects.get_or_create(user=interview.owner, defaults=known)
        interview.save(update_fields=["given_by"])


class Migration(migrations.Migration):
    dependencies = [
        ("interviews", "0001_initial"),
        ("people", "0001_initial"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.AddField(
            model_name="interview",
            name="given_by",
            field=models.ForeignKey(
                help_text="Who gave the recording to the library.",
                null=True,
                on_delete=django.db.models.deletion.PROTECT,
                related_name="given",
                to="people.person",
            ),
        ),
        migrations.RunPython(the_owner_gave_it, migrations.RunPython.noop),
    ]
