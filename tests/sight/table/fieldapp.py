"""The app for work without a signal: its page for everybody, its worker and manifest for strangers too."""

from tests.sight.rows import EVERYBODY, Row, in_project

ROWS = [
    Row("field-app", allowed=EVERYBODY),
    Row("field-worker", allowed=EVERYBODY, to_strangers=200),
    Row("field-manifest", allowed=EVERYBODY, to_strangers=200),
    Row("api_field_who", allowed=EVERYBODY),
    Row("api_field_pack", args=in_project, scoped=True, allowed=EVERYBODY),
]
