/* A clock beside a field of minutes, which runs on through a reload and while the phone is off; and what is usual, taken
   by one tap. Without a script the field is typed into. What runs is kept on this device, by person and field. */
"use strict";

(() => {
  const PREFIX = `bench-clock:${document.body.dataset.keeper ?? ""}:`, MINUTE_MS = 60_000;

  function look(key) {
    try {
      const kept = JSON.parse(localStorage.getItem(key));
      return { spent: Number(kept?.spent) || 0, since: Number(kept?.since) || 0 };
    } catch {
      return { spent: 0, since: 0 };
    }
  }

  function put(key, clock) {
    try {
      if (clock.spent || clock.since) localStorage.setItem(key, JSON.stringify(clock));
      else localStorage.removeItem(key);
    } catch {
      // Nothing is kept on this device: the clock runs as long as the page is open.
    }
  }

  const ran = (clock) => clock.spent + (clock.since ? Math.max(Date.now() - clock.since, 0) : 0);
  const inMinutes = (ms) => Math.max(1, Math.round(ms / MINUTE_MS));

  function write(field, minutes) {
    field.value = `${minutes} min`;
    for (const what of ["input", "change"]) field.dispatchEvent(new Event(what, { bubbles: true }));
  }

  function addButton(row, text, press) {
    const button = document.createElement("button");
    button.type = "button";
    button.className = "quiet";
    button.textContent = text;
    button.addEventListener("click", press);
    row.append(button, " ");
    return button;
  }

  function setUp(field) {
    if (field.dataset.isSetUp) return;
    field.dataset.isSetUp = "1";
    const row = document.createElement("p");
    row.className = "actions";
    (field.closest(".with-unit") ?? field).after(row);
    const { usual, benchClock } = field.dataset;
    if (usual) addButton(row, `Take ${usual}\u00a0min`, () => write(field, usual));
    if (benchClock) addClock(field, row, PREFIX + benchClock);
  }

  function addClock(field, row, key) {
    let clock = look(key);
    const stop = () => {
      clock = { spent: ran(clock), since: 0 };
      put(key, clock);
      write(field, inMinutes(clock.spent));
      show();
    };
    const start = () => {
      clock.since = Date.now();
      put(key, clock);
      show();
    };
    const button = addButton(row, "", () => (clock.since ? stop() : start()));
    const show = () => {
      const minutes = `${Math.floor(ran(clock) / MINUTE_MS)}\u00a0min`;
      button.textContent = clock.since ? `Stop the clock: ${minutes}` : clock.spent ? `Go on from ${minutes}` : "Start the clock";
      button.setAttribute("aria-pressed", clock.since ? "true" : "false");
    };
    show();
    setInterval(show, 5_000);
    // First of all that hears of it, so that what is sent has the minutes in it.
    document.addEventListener("submit", (event) => {
      if (event.target !== field.form) return;
      if (clock.since && !field.value.trim()) stop();
      clock = { spent: 0, since: 0 };
      put(key, clock);
      show();
    }, true);
  }

  const findAll = (root) => root.querySelectorAll("input[data-bench-clock], input[data-usual]").forEach(setUp);
  findAll(document);
  document.body.addEventListener("htmx:afterSettle", (event) => findAll(event.target));
})();
