"""Which mixes a lot took, with litres drawn and returned."""

from __future__ import annotations

from decimal import Decimal

from django.db import models
from django.db.models import F, Q

from inspection.foundation.ids import new_id
from inspection.foundation.of_record import of_record
from inspection.works.lots.models import Lot, OfLot
from inspection.works.paint.models import Mix


@of_record(may_change=("drawn_l", "returned_l"))
class LotMix(models.Model):
    """A mix that a lot took of. Litres as mixed, thinner included; they may be told when the lot ends."""

    id = models.UUIDField(primary_key=True, default=new_id, editable=False)
    lot = models.ForeignKey(Lot, on_delete=models.PROTECT, related_name="mixes")
    mix = models.ForeignKey(Mix, on_delete=models.PROTECT, related_name="lots")
    drawn_l = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)
    returned_l = models.DecimalField(max_digits=8, decimal_places=2, null=True, blank=True)

    objects = OfLot.as_manager()

    class Meta:
        ordering = ("lot", "mix__number")
        constraints = (
            models.UniqueConstraint(fields=("lot", "mix"), name="mix_once_a_lot"),
            models.CheckConstraint(
                condition=Q(returned_l=None)
                | Q(drawn_l__isnull=False, returned_l__lte=F("drawn_l"), returned_l__gte=0),
                name="lot_mix_returns_at_most_what_was_drawn",
            ),
        )

    def __str__(self) -> str:
        return f"{self.mix} in {self.lot}"

    @property
    def unthinned_l(self) -> Decimal:
        """What was used of the paint itself, in litres; 0 where it was not told."""
        if self.drawn_l is None:
            return Decimal(0)
        used = self.drawn_l - (self.returned_l or 0)
        return used * 100 / (100 + (self.mix.thinner_pct or 0))
