"""Many pages read by axe, one after another, in a page where it stands already.

A page that is loaded gets axe anew, half a megabyte, and would be made narrow and wide, light and dark once more. So
what is left of each page is taken out of it, and laid into one and the same page, with the page's own style sheets
and no others: all in one look, then all in the next.
"""

from typing import TYPE_CHECKING, Any

from tests.browser_support import RUN_AXE, axe_options, hand_axe_over

if TYPE_CHECKING:
    from playwright.sync_api import Page

_TAKE_OUT = """() => {
    const attributes = (one) => Object.fromEntries([...one.attributes].map(({name, value}) => [name, value]));
    const sheets = [...document.querySelectorAll("link[rel=stylesheet]")].map((one) => one.getAttribute("href"));
    document.querySelectorAll("link, script").forEach((one) => one.remove());
    // What was ticked or chosen by a script is no part of a page's text.
    for (const one of document.querySelectorAll("input")) one.toggleAttribute("checked", one.checked);
    for (const one of document.querySelectorAll("option")) one.toggleAttribute("selected", one.selected);
    const [head, body] = [document.head, document.body];
    return {sheets, root: attributes(document.documentElement), head: head.innerHTML,
            of_body: attributes(body), body: body.innerHTML};
}"""
_LAY_IN = """async ({sheets, root, head, of_body, body}) => {
    const get = () => [...document.head.querySelectorAll("link[rel=stylesheet]")];
    for (const href of sheets) {
        if (get().some((one) => one.getAttribute("href") === href)) continue;
        const link = Object.assign(document.createElement("link"), {rel: "stylesheet"});
        link.setAttribute("href", href);
        await new Promise((done, failed) => {
            Object.assign(link, {onload: done, onerror: failed});
            document.head.append(link);
        });
    }
    for (const one of get()) one.sheet.disabled = !sheets.includes(one.getAttribute("href"));
    const dress = (one, attributes) => {
        for (const {name} of [...one.attributes]) one.removeAttribute(name);
        for (const [name, value] of Object.entries(attributes)) one.setAttribute(name, value);
    };
    dress(document.documentElement, root);
    for (const one of [...document.head.children]) if (!one.matches("link[rel=stylesheet]")) one.remove();
    document.head.insertAdjacentHTML("afterbegin", head);
    dress(document.body, of_body);
    document.body.innerHTML = body;
}"""


def take_out(page: "Page") -> dict[str, Any]:
    """What stands on a page; the page is of no use afterwards."""
    taken: dict[str, Any] = page.evaluate(_TAKE_OUT)
    return taken


def read_with_axe(page: "Page", taken: dict[str, dict[str, Any]], *, by_look: bool) -> list[str]:
    """Lay into an open page what was taken out of each address; what axe finds wrong, each beside its address."""
    hand_axe_over(page)
    found = []
    for address, what in taken.items():
        told = page.evaluate(
            f"async ([what, options]) => {{ await ({_LAY_IN})(what); return await ({RUN_AXE})(options); }}",
            [what, axe_options(by_look)],
        )
        found += [f"{address} {fault}" for fault in told]
    return found
