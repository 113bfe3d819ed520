"""Instants as records write them, 2026-11-25T06:12:00Z: the one place that writes them and says how they sort."""

from __future__ import annotations

from datetime import UTC, datetime


def written(at: datetime) -> str:
    """An instant as records write it, in whole seconds."""
    return at.astimezone(UTC).strftime("%Y-%m-%dT%H:%M:%SZ")


def in_order(text: str | None) -> str:
    """A text by which instants sort, whether they have milliseconds or not: without its Z; an instant that is not known comes first."""
    return (text or "").removesuffix("Z")
