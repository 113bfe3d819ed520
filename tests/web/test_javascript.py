"""A module without comments has its lines where they stood, and what it imports is read from its code alone."""

from __future__ import annotations

import pytest

from fieldlog.javascript import code_only, imported, imported_when_wanted
from fieldlog.package_data import packaged


@pytest.mark.parametrize(
    ("text", "code"),
    [
        ("a(); // why\nb();", "a();\nb();"),
        ("/** one\n * two */\nc();", "\n\nc();"),
        ("const a = /** @type {any} */ (b);", "const a =   (b);"),
        ("const url = 'https://here'; // there", "const url = 'https://here';"),
        ('say("/* no */", \'it\\\'s // no\');', 'say("/* no */", \'it\\\'s // no\');'),
        ("html`<p>// text  \n ${a /* why */ ? `{${b}` : '}'} /* text */</p>`;", "html`<p>// text  \n ${a   ? `{${b}` : '}'} /* text */</p>`;"),
        ("a/* why */in b;", "a in b;"),
        ("if (a) {\n  // why\n  b();\n    /* x */ c(`\n   kept`);\n}", "if (a) {\n\nb();\n  c(`\n   kept`);\n}"),
        ("const r = /[/*]\\/\\/'/g.test(a); // why", "const r = /[/*]\\/\\/'/g.test(a);"),
        ("const half = (a + b) / 2 / c; // why 'not", "const half = (a + b) / 2 / c;"),
        ("const n = list[0] / 2; /* x */", "const n = list[0] / 2;"),
        ("return /`/.test(a) // why `", "return /`/.test(a)"),
        ("if (a) { b(); } // why", "if (a) { b(); }"),
        ("`unended ${a", "`unended ${a"),
    ],
)
def test_comments_go_and_nothing_else(text: str, code: str) -> None:
    assert code_only(text) == code


def test_every_module_keeps_each_letter_of_its_code_in_its_line() -> None:
    for file in packaged("static").rglob("*.js"):
        text = file.read_text("utf-8")
        before, after = text.split("\n"), code_only(text).split("\n")
        assert len(before) == len(after)
        for line, code in zip(before, after, strict=True):
            letters = iter(line)
            assert all(left in letters for left in code if left != " "), (file.name, line)
            assert "/*" in line or "*/" in line or "//" in line or "*" in line.lstrip()[:1] or "".join(code.split()) in ("".join(line.split()), ""), line
        assert "/**" not in "".join(after)


def test_imports_are_those_of_the_code() -> None:
    text = """
      /** @param {import('./types.js').A} a */
import { a,
  b } from './one.js';
import './two.js';
export { c } from '../three.js';
// import { d } from './four.js';
const said = "import { e } from './five.js'";
const lazy = () => import('./six.js');
    """
    code = code_only(text)
    assert imported(code) == {"./one.js", "./two.js", "../three.js"}
    assert imported_when_wanted(code) == {"./six.js"}
