"""The headers as a real browser obeys them."""

from __future__ import annotations

import pytest

JOIN = """async ([code, name]) => {
  const answer = await fetch('/api/join', {method: 'POST', headers: {'Content-Type': 'application/json'},
    body: JSON.stringify({code, device_name: name})});
  return {status: answer.status, said: await answer.json(), cookies: document.cookie};
}"""

pytestmark = pytest.mark.browser


@pytest.fixture
def page(browser, live_server):
    context = browser.new_context()
    opened = context.new_page()
    opened.console_messages = []
    opened.on("console", lambda message: opened.console_messages.append(message.text))
    opened.goto(f"{live_server.url}/healthz")
    yield opened
    context.close()


def test_a_page_joins_and_its_token_is_out_of_scripts_reach(page, live_server):
    code = live_server.join_link("crew").split("#join=")[1]
    joined = page.evaluate(JOIN, [code, "a phone"])
    assert joined["status"] == 200
    assert joined["said"]["role"] == "crew"
    assert joined["cookies"] == ""
    (cookie,) = page.context.cookies()
    assert (cookie["name"], cookie["httpOnly"], cookie["sameSite"], cookie["path"]) == ("fieldlog", True, "Strict", "/")
    assert page.evaluate("fetch('/api/devices').then(answer => answer.status)") == 403  # known, but no lead


def test_the_browser_knows_every_feature_that_the_policy_names(page):
    assert [text for text in page.console_messages if "ermissions" in text] == []


@pytest.mark.parametrize(
    "attempt",
    [
        "document.body.innerHTML = '<b>text</b>'",
        "document.body.appendChild(document.createElement('script')).src = 'data:text/javascript,1'",
        "trustedTypes.createPolicy('someone-elses', {createHTML: text => text})",
        "fetch('https://elsewhere.example/')",
    ],
)
def test_what_an_injected_script_would_try_fails(page, attempt):
    outcome = page.evaluate(
        """async () => {
             const broken = new Promise(done => document.addEventListener('securitypolicyviolation', done, {once: true}));
             return Promise.race([
               broken.then(event => event.effectiveDirective),
               (async () => { ATTEMPT; await new Promise(done => setTimeout(done, 1500)); return 'nothing happened'; })()
                 .catch(() => broken.then(event => event.effectiveDirective)),
             ]);
           }""".replace("ATTEMPT", attempt)
    )
    assert outcome in ("require-trusted-types-for", "script-src", "script-src-elem", "trusted-types", "connect-src")
