/* Keeps what is typed into a form on this device until it was saved, and brings it back: after a reload, Back, a
   lost network or an ended sign-in. It is kept for one person and the address that the form is sent to, holds only
   what differs from the page as it was served, and goes when it is saved, at sign-out, and after a week. */
"use strict";

(() => {
  const keeper = document.body.dataset.keeper;
  if (!keeper || !isThereRoom()) return;
  const OURS = "typed:", MINE = `${OURS}${keeper}:`, SIGNED_OUT = "signed-out", LET_GO = "let-go";
  const LONGEST_MS = 7 * 24 * 60 * 60 * 1000, MOST = 50, LARGEST = 100_000;
  const KEPT = "input:not([type=hidden], [type=password], [type=file]), select, textarea";
  const COUNT = "input[name$='-TOTAL_FORMS']";
  const thisPage = `${Date.now()}-${Math.random()}`;
  const states = new Map(), served = new Map();

  // The shelf: what is kept, by its key

  function isThereRoom() {
    try {
      return Boolean(localStorage);
    } catch {
      return false;
    }
  }

  function look(key) {
    try {
      const draft = JSON.parse(localStorage.getItem(key));
      const isOurs = [draft?.fields, draft?.lines].every((part) => part instanceof Object);
      return isOurs && Date.now() - draft.at < LONGEST_MS ? draft : null;
    } catch {
      return null;
    }
  }

  const drafts = (start) => Object.keys(localStorage).filter((key) => key.startsWith(start));

  // Other windows hear of it, and nothing of it stays.
  function tellWindows(what, said) {
    try {
      localStorage.setItem(what, JSON.stringify(said));
    } finally {
      localStorage.removeItem(what);
    }
  }

  function clearOld() {
    const good = drafts(OURS).filter((key) => look(key) || localStorage.removeItem(key));
    good.sort((one, other) => look(other).at - look(one).at);
    for (const key of good.slice(MOST)) localStorage.removeItem(key);
  }

  function put(key, draft) {
    const text = JSON.stringify(draft);
    if (text.length > LARGEST) return;
    try {
      localStorage.setItem(key, text);
    } catch {
      // The device has no more room, or keeps nothing: the form itself goes on working.
    }
  }

  // A form: what it holds now, and what it held as it was served

  function read(form, asServed) {
    const found = {};
    for (const field of form.elements) {
      if (field.matches(KEPT)) (found[field.name] ??= []).push(...valuesOf(field, asServed));
    }
    return found;
  }

  function valuesOf(field, asServed) {
    if (isTick(field)) return (asServed ? field.defaultChecked : field.checked) ? [field.value] : [];
    if (!field.options) return [asServed ? field.defaultValue : field.value];
    const chosen = [...field.options].filter((one) => (asServed ? one.defaultSelected : one.selected));
    const usual = field.multiple ? [] : [...field.options].slice(0, 1);
    return (chosen.length ? chosen : usual).map((one) => one.value);
  }

  const isTick = (field) => field.type === "checkbox" || field.type === "radio";
  const isSame = (one, other) => JSON.stringify(one) === JSON.stringify(other);
  const countLines = (form) => Object.fromEntries([...form.querySelectorAll(COUNT)].map((one) => [one.name, one.value]));

  function changes(form, state) {
    return Object.fromEntries(Object.entries(read(form)).filter(([name, now]) => !isSame(now, state.served[name])));
  }

  function keep(form) {
    const state = states.get(form);
    if (!state || state.isOver || state.isWaiting) return;
    const fields = changes(form, state), kept = look(state.key), { sent } = state;
    if (sent || Object.keys(fields).length) {
      put(state.key, { at: Date.now(), page: thisPage, fields, lines: countLines(form), sent });
    } else if (kept?.page === thisPage) {
      localStorage.removeItem(state.key);
    }
  }

  // Bringing back

  async function bringBack(form, state, draft) {
    state.isWaiting = true;
    state.from = draft.page;
    const result = draft.sent && (await askResult(draft.sent));
    if (result) {
      localStorage.removeItem(state.key);
      say(form, state, `What you sent at ${when(draft.at)} was saved.`, { href: result, textContent: "See it" });
    } else {
      state.sent = draft.sent;
      state.isBack = true;
      const done = new Set();
      fillAll(form, state, draft.fields, done);
      await addLines(form, draft.lines);
      fillAll(form, state, draft.fields, done);
      if (Object.keys(draft.fields).length) say(form, state, `Brought back what you had typed at ${when(draft.at)}.`);
    }
    state.isWaiting = false;
    if (state.isTyped) keep(form);
  }

  // Only what was not filled before: a person may be typing already.
  function fillAll(form, state, fields, done) {
    state.isFilling = true;
    for (const field of form.elements) {
      if (done.has(field) || !field.matches(KEPT) || field.disabled || !Array.isArray(fields[field.name])) continue;
      done.add(field);
      fill(field, fields[field.name], form);
      for (const what of ["input", "change"]) field.dispatchEvent(new Event(what, { bubbles: true }));
      for (let part = field.closest("details"); part; part = part.parentElement.closest("details")) part.open = true;
    }
    state.isFilling = false;
  }

  async function askResult(key) {
    try {
      const answer = await fetch(`${document.body.dataset.askSaved}?key=${encodeURIComponent(key)}`);
      return answer.status === 200 ? await answer.text() : "";
    } catch {
      return "";
    }
  }

  async function addLines(form, lines) {
    for (const [name, wanted] of Object.entries(lines)) {
      const count = () => Number(form.elements[name]?.value ?? wanted);
      for (let before = -1; count() < wanted && count() !== before; ) {
        before = count();
        const button = form.querySelector(`[name=add_line][value="${name.replace(/-TOTAL_FORMS$/, "")}"]`);
        if (button) await askLine(button);
      }
    }
  }

  const askLine = (button) => new Promise((done) => {
    button.addEventListener("htmx:afterRequest", done, { once: true });
    htmx.trigger(button, "click");
  });

  function fill(field, values, form) {
    if (isTick(field)) {
      field.checked = values.includes(field.value);
    } else if (field.multiple && field.options) {
      for (const one of field.options) one.selected = values.includes(one.value);
    } else {
      const place = [...form.elements].filter((one) => one.name === field.name).indexOf(field);
      const value = values[place] ?? "";
      // What was chosen may be no longer offered.
      if (!field.options || [...field.options].some((one) => one.value === value)) field.value = value;
    }
  }

  function when(at) {
    const moment = new Date(at), clock = moment.toLocaleTimeString("en-GB", { hour: "2-digit", minute: "2-digit" });
    if (moment.toDateString() === new Date().toDateString()) return clock;
    return `${clock} on ${moment.toLocaleDateString("en-GB", { weekday: "long", day: "numeric", month: "long" })}`;
  }

  // The line above the form
  function say(form, state, sentence, link) {
    const again = { type: "button", className: "plain", textContent: "Start again" };
    const way = Object.assign(document.createElement(link ? "a" : "button"), link ?? again);
    if (!link) way.addEventListener("click", () => startAgain(form, state));
    state.line?.remove();
    state.line = Object.assign(document.createElement("p"), { className: "brought-back", role: "status" });
    state.line.append(`${sentence} `, way);
    form.before(state.line);
  }

  function startAgain(form, state) {
    letGo(form, state);
    form.reset(); // or a browser would bring back the fields by itself
    location.reload();
  }

  function letGo(form, state) {
    state.isOver = true;
    // Another window may have typed something else since: that is not what was saved.
    if ([thisPage, state.from].includes(look(state.key)?.page)) localStorage.removeItem(state.key);
    tellWindows(LET_GO, { key: state.key, fields: changes(form, state) });
  }

  // What happens on the page

  function takeUp() {
    states.clear();
    const keys = [];
    for (const form of document.querySelectorAll("main form[method=post]")) {
      if (!form.querySelector(KEPT) || form.querySelector("[type=password]")) continue;
      const address = new URL(form.getAttribute("action") || location.href, location.href);
      let key = `${MINE}${address.pathname}${address.search}`;
      if (keys.push(key) && keys.indexOf(key) < keys.length - 1) key += `#${keys.length}`;
      // A page that came back to be mended holds what was typed: what was served first still counts.
      const isFirst = !served.has(key);
      if (isFirst) served.set(key, read(form, true));
      const state = { key, served: served.get(key), isTyped: !isFirst };
      states.set(form, state);
      const draft = isFirst && look(key);
      if (draft) bringBack(form, state, draft);
    }
  }

  function note(event) {
    const state = states.get(event.target.form);
    if (!state || state.isFilling) return;
    state.isTyped = true;
    keep(event.target.form);
  }

  function forgetAll() {
    for (const state of states.values()) state.isOver = true;
    for (const key of drafts(MINE)) localStorage.removeItem(key);
  }

  document.addEventListener("input", note);
  document.addEventListener("change", note);
  document.addEventListener("htmx:afterRequest", (event) => {
    const { elt } = event.detail;
    if (elt.name === "add_line" && !states.get(elt.form)?.isWaiting) note({ target: elt });
  });
  document.addEventListener("studio:shown", takeUp);
  // As long as nobody knows whether it arrived, it is sent under its first key, and cannot be written down twice.
  document.addEventListener("studio:sending", ({ target, detail }) => {
    const state = states.get(target);
    if (!state || !detail.written.has("once")) return;
    state.sent ??= detail.written.get("once");
    detail.written.set("once", state.sent);
    keep(target);
  });

  document.addEventListener("studio:saved", ({ target }) => {
    const state = states.get(target);
    if (!state) return;
    letGo(target, state);
    // Some browsers fill a form again by themselves when a person goes back, under a new key.
    target.setAttribute("autocomplete", "off");
  });

  document.addEventListener("studio:not-saved", ({ target, detail }) => {
    const state = states.get(target);
    if (state) {
      state.sent = undefined;
      keep(target);
    }
    if (!target.hasAttribute("data-forgets") || !detail.wentOn) return;
    forgetAll();
    tellWindows(SIGNED_OUT, { keeper });
  });

  document.addEventListener("submit", (event) => {
    if (!event.target.hasAttribute("data-forgets") || !drafts(MINE).length) return;
    const question = "Something that you typed was not saved. It is forgotten when you sign out. Sign out all the same?";
    if (!window.confirm(question)) event.preventDefault();
  }, true);

  window.addEventListener("pagehide", () => {
    for (const [form, state] of states) if (state.isTyped) keep(form);
  });

  window.addEventListener("storage", (event) => {
    if (![SIGNED_OUT, LET_GO].includes(event.key) || !event.newValue) return;
    const said = JSON.parse(event.newValue);
    if (said.keeper === keeper) return forgetAll();
    for (const [form, state] of states) if (state.key === said.key) noticeGone(form, state, said.fields);
  });

  // Another window saved this form, or gave it up. What was typed here beside it stays.
  function noticeGone(form, state, fields) {
    if (state.isOver || !(state.isTyped || state.isBack)) return;
    const isIt = isSame(fields, changes(form, state));
    if (state.isBack || isIt) {
      say(form, state, "This was saved or given up in another window. Look there before you save it here.");
    }
    if (state.isTyped && !isIt) keep(form);
    else state.isTyped = false;
  }

  document.addEventListener("DOMContentLoaded", () => {
    clearOld();
    takeUp();
  });
})();
