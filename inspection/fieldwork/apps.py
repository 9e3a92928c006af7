from importlib import import_module
from importlib.util import find_spec

from django.apps import AppConfig

# Each kind of record is a folder of this room; this is the line that adds one.
KIND_FOLDERS = (
    "steelwork", "air", "abrasive", "cleanliness", "profile", "salts", "dust", "look", "climate", "wetfilm",
    "thickness", "wetsponge", "highvoltage", "pulloff", "cuttest", "cure", "hardness",
    "defects",
)  # fmt: skip


class FieldworkConfig(AppConfig):
    name = "inspection.fieldwork"
    label = "fieldwork"
    verbose_name = "Field records"

    def import_models(self) -> None:
        """The models of the room, those in the folders of the kinds, and those of printed sheets."""
        super().import_models()
        for folder in (*KIND_FOLDERS, "printed"):
            if find_spec(f"{self.name}.{folder}.models"):
                import_module(f"{self.name}.{folder}.models")

    def ready(self) -> None:
        from inspection.fieldwork import area_changes, leaving, lot_facts, project_changes  # noqa: F401, PLC0415 - they listen, once loaded
