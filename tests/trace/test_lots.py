"""From a mix by the lot that took of it to what was measured on its film, the point and the report; and back."""

from __future__ import annotations

import io
import json
import zipfile

from django.test import Client
from django.urls import reverse

from inspection.trace.queries import search
from inspection.works.models import Lot, Mix
from tests.cast import MORNING, Cast
from tests.holdpoints.scene import a_point, sound_record
from tests.standing.scene import measure
from tests.trace.scene import issued
from tests.trace.test_trace import down, up
from tests.works.painted import HOUR, painted

PRIMED, OVER, LATER = "P-1 Lot 1", "P-1 Lot 2", "P-1 Lot 3"


def test_one_walks_from_a_mix_to_the_report_and_back(cast: Cast, client: Client) -> None:
    painted(cast)
    early = measure(cast, "", "", at=MORNING - 25 * HOUR)
    record, point = sound_record(cast), a_point(cast)
    painted(cast, "K-2", coat=1)
    painted(cast, "K-3", at=MORNING + 6 * HOUR)
    issue, mix = issued(cast, cast.site, record), Mix.objects.get(number=1)
    above = up("mix", mix, cast.audrey)
    assert above["lot"] == [PRIMED]
    assert above["thickness"] == ["A1 after Primer, 2026-03-04 09:00"], "what was measured before the lot is not on it"
    assert (above["area"], above["holdpoint"]) == (["P-1 A1 Hatch"], ["Primer accepted, A1"])
    assert above["report"] == ["Daily report P-1 2026-03-04 revision 1"]
    # A later coat lies over the primer, not under what was measured of it; nor does a lot begun after the reading.
    assert down("thickness", record, cast.audrey)["lot"] == [PRIMED]
    assert set(down("holdpoint", point, cast.audrey)["lot"]) == {PRIMED, LATER}
    assert down("report", issue, cast.audrey)["mix"] == ["P-1 Mix 1"]
    assert "lot" not in down("thickness", early, cast.audrey)
    assert "thickness" not in up("lot", Lot.objects.get(number=2), cast.audrey)
    assert [layer.nodes[0].row.title for layer in search("lot 2", cast.audrey)] == [OVER]
    assert search("lot 2", cast.igor) == []
    client.force_login(cast.audrey)
    lot = Lot.objects.get(number=1)
    bundle = client.get(reverse("trace_bundle", args=["lot", lot.pk])).getvalue()
    with zipfile.ZipFile(io.BytesIO(bundle)) as packed:
        [name] = [name for name in packed.namelist() if str(lot.pk) in name and name.endswith(".json")]
        held = json.loads(packed.read(name))
    assert (held["mixes"][0]["drawn_l"], held["places"][0]["area"]) == ("12.00", "A1 Hatch"), held
    Lot.objects.filter(pk=lot.pk).update(withdrawn_at=MORNING, withdrawn_by=cast.quinn, withdrawn_why="Twice")
    assert down("thickness", record, cast.audrey).get("lot") is None, "a withdrawn lot bears nothing"
