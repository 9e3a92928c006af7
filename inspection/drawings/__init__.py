"""Drawings of a project, the areas that each shows, and notes put at a place of one."""
