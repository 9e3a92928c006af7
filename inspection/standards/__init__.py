"""The published rules of coating inspection as pure computation: no Django, no database, no clock."""

from inspection.standards.registry import InputFault, all_calculations, calculate, get

__all__ = ["InputFault", "all_calculations", "calculate", "get"]
