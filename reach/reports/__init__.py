"""Findings written out for people and for programs; sees findings, opens no scene."""
