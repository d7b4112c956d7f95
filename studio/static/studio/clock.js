/* Counts down on a casting day and through the working time of the powder. The pages say the same without it, as of
   when they were loaded. All counting is from moments of the server's: `ahead` is by how much this device is slow. */
"use strict";

(() => {
  const page = document.querySelector("[data-now]"), RENEWED_MS = 30000;
  if (!page) return;
  const clock = page.matches("[data-clock]") ? page : null;
  const find = (name) => page.querySelector(`[data-${name}]`);
  const tell = (name, text) => {
    const element = find(name);
    if (element && element.textContent !== text) element.textContent = text;
  };
  let ahead = Date.parse(page.dataset.now) - Date.now();
  const now = () => Date.now() + ahead;

  const unit = (number, word) => `${number}\u00a0${word}`;
  const stopwatch = (seconds) => `${Math.floor(seconds / 60)}:${String(seconds % 60).padStart(2, "0")}`;

  function inWords(seconds) {
    const hours = Math.floor(seconds / 3600), minutes = Math.floor(seconds / 60) % 60;
    let parts = [[Math.floor(seconds / 60), "min"], [seconds % 60, "s"]];
    if (hours >= 48) parts = [[Math.floor(hours / 24), "days"], [hours % 24, "h"]];
    else if (hours) parts = [[hours, "h"], [minutes, "min"]];
    const said = parts.filter(([number]) => number).map(([number, word]) => unit(number, word));
    return said.join("\u00a0") || unit(0, "min");
  }

  // The casting day: what is next moves on through the timetable, but not past a turn of the kiln that is waited for.
  let stood;

  function showDay() {
    const moments = [...document.querySelectorAll(".moment")];
    const next = moments.findIndex((one) => Date.parse(one.dataset.at) > now() || "turn" in one.dataset);
    if (next < 0 || !find("left")) {
      if (find("left")) location.reload();
      return;
    }
    moments.forEach((one, place) => {
      one.classList.toggle("past", place < next);
      if (place === next) one.setAttribute("aria-current", "step");
      else one.removeAttribute("aria-current");
    });
    const read = (place, what) => moments[place].querySelector(what).textContent;
    tell("next", read(next, ".what"));
    tell("next-day", moments[next].dataset.day);
    tell("next-clock", read(next, "time"));
    const seconds = Math.ceil((Date.parse(moments[next].dataset.at) - now()) / 1000);
    tell("left", inWords(Math.abs(seconds)));
    tell("way", seconds < 0 ? "due" : "in");
    find("ago").hidden = seconds >= 0;
    find("left").parentElement.classList.toggle("waiting", seconds < 0);
    // The button belongs to what is next.
    if (stood !== undefined && stood !== next) lookAgain();
    stood = next;
    if (next) {
      tell("current", read(next - 1, ".what"));
      tell("current-clock", read(next - 1, "time"));
      find("current").parentElement.hidden = false;
    }
  }

  // The working time: which part is now, what is left of it, and by how much it is over.
  const phases = [...document.querySelectorAll(".phases li")];
  let shown = null;

  function showClock() {
    const gone = Math.max(0, Math.floor((now() - Date.parse(clock.dataset.start)) / 1000));
    const place = phases.findIndex((one) => gone < Number(one.dataset.to));
    const name = (one) => one.querySelector("span").textContent;
    const last = phases.length ? Number(phases.at(-1).dataset.to) : 0;
    phases.forEach((one, number) => {
      if (number === place) one.setAttribute("aria-current", "step");
      else one.removeAttribute("aria-current");
    });
    clock.classList.toggle("over", place < 0);
    tell("phase", place < 0 ? clock.dataset.over : name(phases[place]));
    tell("left", stopwatch(place < 0 ? gone - last : Number(phases[place].dataset.to) - gone));
    tell("took", inWords(gone));
    const following = place < 0 ? undefined : phases[place + 1];
    find("following").hidden = !following;
    if (following) find("following").querySelector("span").textContent = name(following).toLowerCase();
    if (shown !== null && shown !== place) call(place < 0 ? 4 : 2);
    shown = place;
  }

  // Sound and buzz, once the person has asked for them: a browser lets nothing sound before that.
  const sound = document.querySelector("[data-sound]");
  let tone = null;

  function call(times) {
    if (!tone) return;
    navigator.vibrate?.(Array(times * 2 - 1).fill(250));
    for (let number = 0; number < times; number += 1) {
      const pipe = tone.createOscillator(), start = tone.currentTime + number * 0.5;
      pipe.frequency.value = 880;
      pipe.connect(tone.destination);
      pipe.start(start);
      pipe.stop(start + 0.25);
    }
  }

  function switchSound() {
    if (tone) tone.close();
    tone = tone ? null : new AudioContext();
    sound.setAttribute("aria-pressed", String(Boolean(tone)));
    call(1);
  }

  // The screen stays on where the browser can; it lets go of that whenever the page is hidden.
  const awake = document.querySelector("[data-awake]");

  async function stayAwake() {
    let kept = true;
    try {
      await navigator.wakeLock.request("screen");
    } catch {
      kept = false;
    }
    awake.textContent = kept ? awake.dataset.awake : awake.dataset.asleep;
    awake.hidden = false;
  }

  async function fetchAnew() {
    const answer = await fetch(location.href, { cache: "no-store" });
    return new DOMParser().parseFromString(await answer.text(), "text/html").querySelector("[data-now]");
  }

  // Another phone may have written a turn of the kiln down, or the next thing has a button of its own.
  async function lookAgain() {
    try {
      const fresh = await fetchAnew(), isWriting = document.activeElement?.matches("input, select");
      if (fresh && fresh.dataset.version !== page.dataset.version && !isWriting) location.reload();
    } catch {
      // No network at the bench: the page goes on by itself.
    }
  }

  // After a sleep the device may have set its clock, and another hand may have pressed: ask the server again.
  async function askAgain() {
    try {
      const fresh = await fetchAnew();
      if (!fresh || Boolean(fresh.dataset.start) !== Boolean(page.dataset.start)) return location.reload();
      if (clock) clock.dataset.start = fresh.dataset.start;
      ahead = Date.parse(fresh.dataset.now) - Date.now();
    } catch {
      // No network at the bench: this device's own clock counts on.
    }
    show();
  }

  function wake() {
    if (document.hidden) return;
    show();
    askAgain();
    if (!clock) lookAgain();
    tone?.resume();
    if (clock) stayAwake();
  }

  const show = clock ? showClock : showDay;
  find("as-of")?.remove();
  show();
  setInterval(show, 250);
  if (!clock) setInterval(() => document.hidden || lookAgain(), RENEWED_MS);
  document.addEventListener("visibilitychange", wake);
  window.addEventListener("pageshow", (event) => event.persisted && wake());
  if (clock) {
    sound.hidden = !("AudioContext" in window);
    sound.addEventListener("click", switchSound);
    stayAwake();
  }
})();
