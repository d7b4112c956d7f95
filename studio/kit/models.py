"""What the kit keeps: how often a password was wrong."""

from django.db import models


class WrongTries(models.Model):
    """Tries of one asker at one name since a moment. The key is a digest: what is typed as a name may be a password."""

    key = models.CharField(max_length=64, primary_key=True)
    count = models.PositiveSmallIntegerField()
    since = models.DateTimeField(db_index=True)

    def __str__(self) -> str:
        return f"{self.count} tries since {self.since}"
