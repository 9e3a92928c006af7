"""The report of each day: drafted, issued with what it rests on, checked, set aside."""
