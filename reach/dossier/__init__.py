"""What a planner hands over, as data: tables and worksite cards that every form prints."""
