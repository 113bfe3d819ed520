"""Which file belongs to which tier follows from what screens import, and each tier keeps within its size on the wire."""

from __future__ import annotations

import re
from pathlib import Path

import pytest

from fieldlog.package_data import packaged
from fieldlog.shell import SCREENS, TIERS, first_screen, kept_page, shell, tiers_of

STATIC = packaged("static")
IMPORT = re.compile(r"""^(?:import|export)\b[^;]*?\bfrom\s*['"](\.[^'"]+)['"]""", re.MULTILINE)
SCREEN = re.compile(r"""^  '?([\w-]+)'?: \(\) => import\('\./([\w-]+)\.js'\)""", re.MULTILINE)


@pytest.fixture
def static(tmp_path: Path) -> Path:
    files = {
        "index.html": "<head></head>", "start.js": "import('./app.js');", "app.js": "import './views/router.js';\nimport './store/db.js';",
        "store/db.js": "const lazy = () => import('./photos.js');", "store/photos.js": "", "rounding.js": "",
        "views/router.js": "const S = { a: () => import('./today.js'), b: () => import('./flags.js'), c: () => import('./set-up.js'), "
                           "d: () => import('../online/access.js') };",
        "views/today.js": "import '../rounding.js';", "views/flags.js": "import '../rounding.js';\nimport './evidence.js';",
        "views/evidence.js": "", "views/set-up.js": "import './evidence.js';\nimport './series.js';", "views/series.js": "",
        "online/access.js": "import '../views/devices.js';", "views/devices.js": "",
    }  # fmt: skip
    for name, text in files.items():
        (tmp_path / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / name).write_text(text)
    return tmp_path


def test_a_module_comes_with_the_first_screen_that_needs_it(static: Path) -> None:
    assert tiers_of(static) == {
        "safety": ("app.js", "index.html", "rounding.js", "start.js", "store/db.js", "store/photos.js", "views/router.js", "views/today.js"),
        "shore": ("views/evidence.js", "views/flags.js"),
        "desk": ("views/devices.js", "views/series.js", "views/set-up.js"),
    }


def test_a_module_that_a_screen_begins_to_import_moves_to_its_tier(static: Path) -> None:
    (static / "views/today.js").write_text("import './series.js';")
    assert "views/series.js" in tiers_of(static)["safety"]


def test_every_file_of_the_app_is_in_one_tier_and_imports_none_of_a_later_one() -> None:
    tiers = tiers_of(STATIC)
    place = {name: n for n, tier in enumerate(TIERS) for name in tiers[tier]}
    assert len(place) == sum(map(len, tiers.values())) == sum(map(len, shell(STATIC).tiers.values()))
    for name, tier in place.items():
        if name.endswith(".js"):
            for other in IMPORT.findall((STATIC / name).read_text("utf-8")):
                needed = (STATIC / name).parent.joinpath(other).resolve().relative_to(STATIC.resolve()).as_posix()
                assert place[needed] <= tier, f"{name} needs {needed}, which comes later"


def test_screens_are_in_the_tiers_that_they_are_named_for() -> None:
    tiers = tiers_of(STATIC)
    for tier, names in SCREENS.items():
        assert {f"views/{name}.js" for name in names} <= set(tiers[tier]), tier


def test_the_phone_names_every_screen_that_may_still_be_coming() -> None:
    """What Today says is lacking, in the words of static/views/tiers.js, are the router's screens of that tier."""
    text = (STATIC / "views/tiers.js").read_text("utf-8")
    tiers = tiers_of(STATIC)
    screens = dict(SCREEN.findall((STATIC / "views/router.js").read_text("utf-8")))
    assert len(screens) > 15
    for tier in TIERS[1:]:
        named = set(re.findall(r"'?([\w-]+)'?: (?:'|null)", re.search(rf"^  {tier}: \{{(.*?)\}}", text, re.M | re.S)[1]))
        assert named == {screen for screen, module in screens.items() if f"views/{module}.js" in tiers[tier]}, tier


def test_the_kept_page_names_every_module_of_the_first_screen_so_that_they_load_side_by_side() -> None:
    def needs(name: str, reached: set[str]) -> set[str]:
        if name not in reached:
            reached.add(name)
            for other in IMPORT.findall((STATIC / name).read_text("utf-8")):
                needs((STATIC / name).parent.joinpath(other).resolve().relative_to(STATIC.resolve()).as_posix(), reached)
        return reached

    wanted = needs("app.js", set()) | needs("views/today.js", set())
    assert set(first_screen(STATIC)) == wanted - {"worker.js"}
    named = re.findall(r'<link rel="modulepreload" href="/shell/(\w+)/([^"]+)">', kept_page(STATIC))
    assert {name for _, name in named} == wanted, "the first page itself names the worker's"
    assert {version for version, _ in named} == {shell(STATIC).version}
