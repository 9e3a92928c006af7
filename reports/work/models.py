"""Jobs, and the signs of life of those who do them."""

from __future__ import annotations

from django.db import models
from django.db.models import Q
from django.utils import timezone

from accounts.models import Person
from inspection.foundation.ids import new_id


class Job(models.Model):
    """Work for a Celery worker. The row is the truth; the broker's message only says that it is there."""

    class State(models.TextChoices):
        QUEUED = "queued", "Queued"
        RUNNING = "running", "Running"
        DONE = "done", "Done"
        FAILED = "failed", "Failed"

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    kind = models.CharField(max_length=40)
    about = models.CharField(max_length=80, help_text="Id of the row it works on")
    state = models.CharField(max_length=8, choices=State, default=State.QUEUED)
    attempts = models.PositiveSmallIntegerField(default=0)
    last_error = models.TextField(blank=True)
    queued_at = models.DateTimeField(default=timezone.now)
    sent_at = models.DateTimeField(null=True, blank=True, help_text="When the broker last took a message about it")
    leased_until = models.DateTimeField(null=True, blank=True)
    finished_at = models.DateTimeField(null=True, blank=True)
    asked_by = models.ForeignKey(Person, on_delete=models.PROTECT, null=True, related_name="+")

    class Meta:
        ordering = ("-queued_at",)
        indexes = (models.Index(fields=("state", "leased_until")),)
        constraints = (
            models.UniqueConstraint(
                fields=("kind", "about"), condition=Q(state="queued"), name="one_queued_job_a_thing"
            ),
        )

    def __str__(self) -> str:
        return f"{self.kind} {self.about}"

    @property
    def words(self) -> str:
        """Where it stands, as told to users."""
        if self.state == Job.State.RUNNING and self.leased_until and self.leased_until < timezone.now():
            return "Interrupted; another worker takes it over within a minute"
        return {
            Job.State.QUEUED: "Waiting for a worker",
            Job.State.RUNNING: "Being worked on" if not self.last_error else "Interrupted; it will be tried again",
            Job.State.DONE: "Done",
            Job.State.FAILED: "Failed",
        }[Job.State(self.state)]


class Heartbeat(models.Model):
    """When a worker last said it lives. /readyz reads it."""

    name = models.CharField(max_length=60, primary_key=True)
    at = models.DateTimeField(default=timezone.now)
