from __future__ import annotations

from rest_framework import serializers

from inspection.projects.models import Project


class ProjectTold(serializers.ModelSerializer):
    class Meta:
        model = Project
        fields = ("id", "code", "name")


class WhoOut(serializers.Serializer):
    person = serializers.UUIDField()
    name = serializers.CharField()
    company = serializers.CharField()
    csrf = serializers.CharField(help_text="To be sent as X-CSRFToken with every record")
    app_version = serializers.CharField(help_text="Of the field app that the server has now")
    server_at = serializers.DateTimeField(help_text="The server's clock, by which the phone corrects its own")
    projects = ProjectTold(many=True)
