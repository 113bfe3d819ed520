"""Sites as the command line names them: by name or id."""

from __future__ import annotations

from typing import Any

from sqlite_utils import Database

from fieldlog.errors import NotHere
from fieldlog.questions.sites import site_ids, sites
from fieldlog.shown_names import named


def chosen_sites(db: Database, name: str | None) -> list[dict[str, Any]]:
    """
    The site of a name or id, or every site.

    Raises:
        NotHere: there is no such site, or none at all.
    """
    known = sites(db)
    if not known:
        raise NotHere("There is no site yet. A lead adds one under Set-up.")
    if name is None:
        return known
    return [site_called(db, name)]


def site_called(db: Database, name: str) -> dict[str, Any]:
    """
    The one site of a name or id.

    Raises:
        NotHere: there is none, or several have the name.
    """
    every = sites(db)
    found = [site for site in every if site["record_id"] == name or (site["name"] or "").casefold() == name.casefold()]
    if len(found) == 1:
        return found[0]
    known = ", ".join(f"{named(site['name'])} ({site['record_id']})" for site in every) or "none"
    what = "Several sites are" if found else "No site is"
    raise NotHere(f"{what} called {name!r}. Known here: {known}.")


def site_id_of(db: Database, name: str | None) -> str | None:
    """The id of the site of a name or id; without one that of the only site, None where there are several or none."""
    if name is not None:
        return str(site_called(db, name)["record_id"])
    ids = site_ids(db)
    return ids[0] if len(ids) == 1 else None
