"""The setting from which everything asked works: search, judgement, words."""
