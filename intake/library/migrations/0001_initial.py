import django.db.models.deletion
from django.conf import settings
from django.db import migrations, models


class Migration(migrations.Migration):
    initial = True

    dependencies = [
        ("files", "0002_append_only"),
        migrations.swappable_dependency(settings.AUTH_USER_MODEL),
    ]

    operations = [
        migrations.CreateModel(
            name="SigningCertificate",
            fields=[
                ("id", models.BigAutoField(auto_created=True, primary_key=True, serialize=False, verbose_name="ID")),
                ("certificate_pem", models.TextField()),
                ("others_pem", models.TextField(blank=True, help_text="Certificates between it and its root.")),
                (
                    "key_encrypted",
                    models.TextField(help_text="PKCS #8, under a key derived from the site's secret key."),
                ),
                ("sha256", models.CharField(help_text="Of the certificate as DER.", max_length=64, unique=True)),
                ("subject", models.CharField(max_length=500)),
                ("made_at", models.DateTimeField(auto_now_add=True)),
                ("ends_at", models.DateTimeField()),
                (
                    "brought_by",
                    models.ForeignKey(
                        help_text="Empty: our own.",
                        null=True,
                        on_delete=django.db.models.deletion.PROTECT,
                        related_name="+",
                        to=settings.AUTH_USER_MODEL,
                    ),
                ),
            ],
            options={
                "ordering": ("-id",),
            },
        ),
        migrations.CreateModel(
            name="Library",
            fields=[
                ("id", models.PositiveSmallIntegerField(default=1, editable=False, primary_key=True, serialize=False)),
                ("name", models.CharField(default="Your library", max_length=120)),
                ("room", models.CharField(default="Local history room", max_length=120)),
                ("place", models.CharField(blank=True, help_text="The town.", max_length=120)),
                (
                    "contact",
                    models.TextField(
                        blank=True, help_text="Address and telephone as they stand on papers, line by line."
                    ),
                ),
                ("email", models.EmailField(blank=True, help_text="Where people write to.", max_length=254)),
                ("accession_pattern", models.CharField(default="{year}-{sequence:04d}", max_length=40)),
                ("copy_name_pattern", models.CharField(default="{date}_{narrator}_{part}", max_length=80)),
                ("mail_server", models.CharField(blank=True, max_length=253)),
                ("mail_port", models.PositiveIntegerField(default=587)),
                (
                    "mail_security",
                    models.CharField(
                        choices=[
                            ("starttls", "STARTTLS (usually port 587)"),
                            ("tls", "TLS from the start (usually port 465)"),
                            ("none", "None: only for a mail server on this same computer"),
                        ],
                        default="starttls",
                        max_length=10,
                    ),
                ),
                ("mail_user", models.CharField(blank=True, max_length=254)),
                (
                    "mail_password",
                    models.TextField(blank=True, help_text="Encrypted with a key made from the site's secret key."),
                ),
                (
                    "mail_from",
                    models.EmailField(
                        blank=True, help_text="The sender's address; the library's own where empty.", max_length=254
                    ),
                ),
                (
                    "settled",
                    models.JSONField(default=list, help_text="Steps of the set-up that somebody has looked at."),
                ),
                (
                    "logo",
                    models.ForeignKey(
                        null=True, on_delete=django.db.models.deletion.PROTECT, related_name="+", to="files.storedfile"
                    ),
                ),
            ],
            options={
                "constraints": [
                    models.CheckConstraint(condition=models.Q(("id", 1)), name="there_is_one_library"),
                    models.CheckConstraint(
                        condition=models.Q(("mail_security__in", ["starttls", "tls", "none"])),
                        name="library_mail_security_is_known",
                    ),
                ],
            },
        ),
    ]
