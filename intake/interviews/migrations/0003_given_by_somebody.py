import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    dependencies = [("interviews", "0002_given_by"), migrations.swappable_dependency(settings.AUTH_USER_MODEL)]

    operations = [
        migrations.AlterField(
            model_name="interview",
            name="given_by",
            field=models.ForeignKey(
                help_text="Who gave the recording to the library.",
                on_delete=django.db.models.deletion.PROTECT,
                related_name="given",
                to="people.person",
            ),
        ),
        migrations.AlterField(
            model_name="interview",
            name="owner",
            field=models.ForeignKey(
                help_text="Who looks after it.",
                on_delete=django.db.models.deletion.PROTECT,
                related_name="interviews",
                to=settings.AUTH_USER_MODEL,
            ),
        ),
    ]
