"""Tests of the papers."""
