"""Questions about readings, for the quality manager alone: asked with their arithmetic, never as verdicts."""
