"""A page on the server's origin that holds nothing but the phone: no screens, no syncing of its own."""

from __future__ import annotations

from typing import Any

OPEN = """
if (!globalThis.phone) {
  const { openPhone } = await import('/store/phone.js');
  globalThis.faults = [];
  globalThis.phone = await openPhone({ now: () => Date.now() + (globalThis.skewMs ?? 0) });
  phone.on('fault', ({ sentence }) => faults.push(sentence));
}
const tell = async (work) => { try { return await work(); } catch (error) { return error.sentence ?? String(error); } };
"""
SPECIES = "phone.write('species', null, { scientific_name: 'Fucus vesiculosus' }, { siteId: null })"
"""One entry that a lead may write before anything else is set up."""


class PhonePage:
    """A phone in a page of a browser context."""

    def __init__(self, context: Any, url: str, path: str = "/healthz") -> None:
        self.page = context.new_page()
        self.page.goto(url + path)

    def do(self, script: str, told: Any = None) -> Any:
        """Run statements with `phone`, `faults`, `told` and `tell` (an error's sentence); the value they return."""
        return self.page.evaluate(f"async (told) => {{ {OPEN} {script} }}", told)

    def join(self, code: str) -> None:
        self.do("await phone.join(told, 'a phone'); await phone.syncNow();", code)

    def write(self, count: int = 1) -> None:
        self.do(f"for (let turn = 0; turn < told; turn++) await {SPECIES};", count)

    def sync(self) -> bool:
        return self.do("return phone.syncNow();")

    def states(self) -> list[str]:
        """The state of each own entry, oldest first."""
        return self.do("return (await phone.entries({ limit: 10000 })).map((entry) => entry.state).reverse();")

    def numbers(self) -> list[int]:
        return self.do("return (await phone.entries({ limit: 10000 })).map((entry) => entry.n).sort((a, b) => a - b);")

    @property
    def state(self) -> dict[str, Any]:
        return self.do("return { ...phone.syncState };")
