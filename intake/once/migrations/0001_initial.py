from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = []

    operations = [
        migrations.CreateModel(
            name="SentForm",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("digest", models.CharField(max_length=64, unique=True)),
                (
                    "led_to",
                    models.CharField(blank=True, help_text="The address it was answered with, if any.", max_length=200),
                ),
                ("sent_at", models.DateTimeField(auto_now_add=True, db_index=True)),
            ],
        ),
    ]
