/* A form whose offers follow a choice is fetched anew; what a person writes while that is on its way stays written. */
"use strict";

const sent = new WeakMap();

const holds = (field) => (field.type === "checkbox" ? "checked" : "value");

function valuesOf(form) {
  const fields = [...form.elements].filter((one) => one.name && one.type !== "hidden");
  return new Map(fields.map((one) => [one.name, one[holds(one)]]));
}

function asker(event) {
  const elt = event.detail.requestConfig?.elt;
  return elt?.matches("[data-follows]") ? elt : null;
}

document.addEventListener("htmx:beforeRequest", (event) => {
  const elt = asker(event);
  if (elt) sent.set(elt, { form: elt.closest("form"), values: valuesOf(elt.closest("form")) });
});

document.addEventListener("htmx:beforeSwap", (event) => {
  const before = sent.get(asker(event));
  if (!before) return;
  const now = valuesOf(before.form);
  // A line that was added meanwhile is not in the answer: the page stays as it is.
  if ([...now.keys()].some((name) => !before.values.has(name))) event.detail.shouldSwap = false;
  before.typed = [...now].filter(([name, value]) => value !== before.values.get(name));
});

// Once the new fields answer to what is typed in them.
document.addEventListener("htmx:afterSettle", (event) => {
  const before = sent.get(asker(event));
  for (const [name, value] of before?.typed ?? []) {
    const field = before.form.elements.namedItem(name);
    if (!field) continue;
    field[holds(field)] = value;
    field.dispatchEvent(new Event("input", { bubbles: true }));
  }
});
