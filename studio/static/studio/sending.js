/* How a form is sent. Enter goes on to the next field, and only a button saves. What was written stays on the page,
   with its one-time key, until the studio has answered: a save that failed is tried again and never done twice.
   Without this script browsers send the forms as they do anywhere, and Enter does nothing. */
"use strict";

(() => {
  const PATIENCE_MS = 30_000;
  const FIELDS = "input:not([type=hidden], [name$='-DELETE']), select, textarea";

  // Enter

  document.addEventListener("keydown", (event) => {
    const field = event.target, form = field.form;
    if (event.key !== "Enter" || event.isComposing || !form?.querySelector("[data-enter-goes-on]")) return;
    const sends = event.ctrlKey || event.metaKey;
    if (field.matches("button") && !sends) {
      // A key that is held down goes past the last field and no further.
      if (event.repeat) event.preventDefault();
    } else if (sends || !field.matches("textarea, select")) {
      // In a list Enter opens and chooses, in a note it begins a new line.
      event.preventDefault();
      if (!sends) goToNext(form, field);
      else if (!event.repeat) form.requestSubmit(findSave(form));
    }
  });

  function goToNext(form, field) {
    const fields = [...form.elements];
    const next = fields.slice(fields.indexOf(field) + 1).find(
      (one) => one.matches(FIELDS) && !one.disabled && one.checkVisibility(),
    );
    (next ?? findSave(form))?.focus();
    if (next?.matches("input")) next.select();
  }

  const findSave = (form) =>
    form.querySelector("button.press") ?? form.querySelector("button:enabled:not([type=button], [name=add_line])");

  // Sending

  document.addEventListener("submit", (event) => {
    const form = event.target, button = event.submitter;
    if (event.defaultPrevented || form.getAttribute("method") !== "post") return;
    // The answer is a file, and the page stays: the button must go on working.
    if (form.hasAttribute("data-hands-file")) return;
    if (form.dataset.sent) return event.preventDefault();
    form.dataset.sent = "1";
    button?.setAttribute("aria-disabled", "true");
    // A browser offers to remember a password when it sees the form itself being sent.
    if (form.querySelector("[type=password]")) return;
    event.preventDefault();
    send(form, button);
  });

  // A page out of the browser's memory may be old, and its key used up: it is asked for anew.
  window.addEventListener("pageshow", (event) => {
    if (event.persisted) location.reload();
  });

  function release(form) {
    delete form.dataset.sent;
    for (const button of form.querySelectorAll("button[aria-disabled]")) button.removeAttribute("aria-disabled");
  }

  const carriesFiles = (form) => form.enctype === "multipart/form-data";

  // The studio would hang up half way, and the browser could not say why.
  function isTooHeavy(form) {
    const files = [...form.querySelectorAll("[type=file]")].flatMap((field) => [...field.files]);
    return files.reduce((sum, file) => sum + file.size, 0) > Number(form.dataset.mostBytes ?? Infinity);
  }

  async function send(form, button) {
    form.querySelector(".not-saved")?.remove();
    if (isTooHeavy(form)) return fail(form, button, "these files are too large to be sent at once. Choose fewer");
    const written = new FormData(form, button);
    tell(form, "studio:sending", { written });
    let answer, page;
    try {
      answer = await fetch(form.getAttribute("action") || location.href, {
        method: "POST",
        body: carriesFiles(form) ? written : new URLSearchParams(written),
        headers: { "Studio-Sent": "1" },
        signal: AbortSignal.timeout(carriesFiles(form) ? 4 * PATIENCE_MS : PATIENCE_MS),
      });
      page = new DOMParser().parseFromString(await answer.text(), "text/html");
    } catch {
      return fail(form, button, "the studio does not answer");
    }
    const way = answer.headers.get("Studio-On"), main = page.querySelector("main");
    if (answer.status >= 500 || !(way || main)) {
      const reason = page.querySelector(".message.error") ?? page.querySelector("main h1");
      return fail(form, button, reason?.textContent.trim().replace(/\.$/, "") ?? "the studio cannot save just now");
    }
    tell(form, answer.headers.has("Studio-Saved") ? "studio:saved" : "studio:not-saved", { wentOn: Boolean(way) });
    if (way) goOn(new URL(way, location.href));
    else show(page, main);
  }

  const tell = (element, what, detail) => element.dispatchEvent(new CustomEvent(what, { bubbles: true, detail }));

  function goOn(to) {
    // An address that differs in nothing but its # would only scroll.
    const stays = to.pathname === location.pathname && to.search === location.search && to.hash;
    if (!stays) return location.assign(to);
    history.replaceState(null, "", to);
    location.reload();
  }

  // A page with something to mend, or with an answer, takes the place of the one that was sent.
  function show(page, main) {
    document.title = page.title;
    for (const sheet of page.querySelectorAll("link[rel=stylesheet]")) {
      if (!document.head.querySelector(`link[href="${sheet.getAttribute("href")}"]`)) document.head.append(sheet);
    }
    document.querySelector("main").replaceWith(main);
    htmx.process(main);
    window.scrollTo(0, 0);
    (main.querySelector("[autofocus]") ?? main).focus();
    tell(main, "studio:shown");
  }

  function fail(form, button, reason) {
    release(form);
    const line = document.createElement("p"), again = document.createElement("button");
    line.className = "not-saved";
    line.setAttribute("role", "alert");
    again.type = "button";
    again.className = "quiet";
    again.textContent = "Try again";
    again.addEventListener("click", () => form.requestSubmit(button));
    line.append(`Not saved: ${reason}. What you typed stays here. `, again);
    (button?.closest(".actions") ?? button ?? form.lastElementChild).after(line);
    tell(form, "studio:failed");
  }
})();
