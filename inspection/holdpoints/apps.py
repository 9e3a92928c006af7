from django.apps import AppConfig


class HoldpointsConfig(AppConfig):
    name = "inspection.holdpoints"
    label = "holdpoints"
    verbose_name = "Hold points"

    def ready(self) -> None:
        from inspection.holdpoints import (  # noqa: PLC0415 - they listen, once models are loaded
            area_changes,  # noqa: F401 - as above
            coat_changes,  # noqa: F401 - as above
            kept_places,  # noqa: F401 - as above
            leaving,  # noqa: F401 - as above
            lot_facts,  # noqa: F401 - as above
            next_held,  # noqa: F401 - as above
            plan_changes,  # noqa: F401 - as above
            repaired_changes,  # noqa: F401 - as above
        )
