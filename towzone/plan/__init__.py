"""Planning a tow: its timetable, what it keeps clear by, what would mend it, a line that does."""
