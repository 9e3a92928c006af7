"""The form of a wet-sponge test: a line for each holiday."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms

from inspection.fieldwork.forms import Corrected
from inspection.fieldwork.models import Latest
from inspection.fieldwork.tested_forms import FilmTest, figure
from inspection.fieldwork.wetsponge.models import WetSpongeRecord
from inspection.foundation.form_fields import LinesField, Row
from inspection.foundation.units import um
from inspection.instruments.models import Gauge
from inspection.standards.holiday_sponge import DOCUMENTS


def holiday_of(line: str) -> Row:
    """Where the holiday is; after a semicolon what was seen there."""
    place, _, seen = line.partition(";")
    return {"place": place.strip(), "seen": seen.strip()}


def line_of(hole: Row) -> str:
    return f"{hole['place']}; {hole['seen']}" if hole.get("seen") else str(hole["place"])


class HolidayForm(FilmTest):
    """What both ways of looking for holidays ask. The film comes from the thickness that stands there."""

    instrument = Gauge.Kind.HOLIDAY
    figures: ClassVar[tuple[str, ...]] = ("dry_film_um", "voltage_v", "tested_m2", "holidays")

    dry_film_um = figure("Dry film, µm", "The mean that was measured; the voltage follows from it.", required=True,
                         example="300")  # fmt: skip
    tested_m2 = figure("Tested, m²", required=True, example="12.5")
    holidays = LinesField(
        holiday_of, required=False, label="Holidays found, a line for each",
        help_text="Where it is, so that it is found again, such as: frame 12, 40 cm above the weld; pinhole. Empty "
            "where "
        "none was found. Each opens an item of rework at its place.",
    )  # fmt: skip
    most_per_m2 = figure("Holidays allowed on a m²", "By the contract; empty: none.", example="0")
    speed_m_per_s = figure("Moved at, m/s", "About 0.3 m/s at most (practice of pipe coating).", example="0.3")
    earth_proven = forms.BooleanField(
        label="Earth and device were proven on a bare place first", required=False,
        help_text="Without that nothing is judged where nothing was found.",
    )  # fmt: skip

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["gauge"].label = "Holiday detector"
        film = self._film()
        if film is not None:
            self.initial.setdefault("dry_film_um", um(film.mean_nm))
            self.initial.setdefault("thinnest_film_um", um(film.lowest_nm))

    def _film(self) -> Any:
        """The thickness record that stands for the area after the coat, where both are known."""
        area, coat = self.initial.get("area"), self.initial.get("coat")
        stands = (
            Latest.objects.filter(area=area, coat=coat, kind="thickness") if area and coat else Latest.objects.none()
        )
        found = stands.select_related("record__thicknessrecord").first()
        return found.record.thicknessrecord if found else None


class WetSponge(HolidayForm):
    model = WetSpongeRecord
    stay = ("standard", "voltage_v", "most_per_m2", "wetting_agent", "as_specified")
    field_order = (
        "area", "coat", "id", "taken_at", "standard", "dry_film_um", "voltage_v", "as_specified", "wetting_agent",
        "earth_proven", "speed_m_per_s", "tested_m2", "holidays", "most_per_m2", "gauge", "note",
    )  # fmt: skip

    standard = forms.ChoiceField(label="Standard", choices=[(name, name) for name in DOCUMENTS])
    voltage_v = figure("Voltage of the device, V", "Such as 9, 67.5 or 90.", required=True, example="67.5")
    as_specified = forms.BooleanField(
        label="The specification, or your own copy of the standard, names this voltage for this film", required=False,
        help_text="Needed where the voltages of a document are not known here, such as those of ISO 29601.",
    )  # fmt: skip
    wetting_agent = forms.BooleanField(
        label="A wetting agent was in the water", required=False, help_text="Needed above 254 µm (ASTM G62)."
    )


class WetSpongeCorrection(WetSponge, Corrected):
    pass
