"""Who may sign in, and in which role."""

from typing import ClassVar

from django.contrib.auth.base_user import AbstractBaseUser, BaseUserManager
from django.db import models


class Role(models.TextChoices):
    VOLUNTEER = "volunteer", "Volunteer"
    ARCHIVIST = "archivist", "Archivist"
    COORDINATOR = "coordinator", "Coordinator"


class UserManager(BaseUserManager["User"]):
    def create_user(self, email: str, password: str | None = None, *, name: str, role: str) -> "User":
        user = self.model(email=self.normalize_email(email).lower(), name=name, role=role)
        user.set_password(password)
        user.save(using=self._db)
        return user


class User(AbstractBaseUser):
    """An account; the e-mail address is the sign-in name. Narrators need none."""

    email = models.EmailField("e-mail address", unique=True)
    name = models.CharField(max_length=200)
    role = models.CharField(max_length=20, choices=Role.choices)
    is_active = models.BooleanField(default=True)
    date_joined = models.DateTimeField(auto_now_add=True)

    objects: ClassVar[UserManager] = UserManager()
    USERNAME_FIELD = "email"
    EMAIL_FIELD = "email"
    REQUIRED_FIELDS: ClassVar[list[str]] = ["name"]

    class Meta:
        constraints = [
            models.CheckConstraint(condition=models.Q(role__in=Role.values), name="user_has_a_known_role"),
        ]

    def __str__(self) -> str:
        return self.name

    @property
    def is_archivist(self) -> bool:
        """Staff of the local history room: archivists and the coordinator among them."""
        return self.role in {Role.ARCHIVIST, Role.COORDINATOR}
