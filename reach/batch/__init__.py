"""Many scenes, procedures and variations: run once each, kept, told in one table."""
