"""Lots, what one crew prepared or coated in one go, and what follows: recoat windows, progress, paint used."""
