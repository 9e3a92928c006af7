"""What needs somebody: decisions, what runs out, reminders, calendars."""
