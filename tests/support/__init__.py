"""Builders and fakes for tests."""
