/* A price that is changed ticks its piece, and a tick that is taken away brings back the price that stood there. */
"use strict";

document.addEventListener("input", (event) => {
  const { name, value, dataset, form } = event.target;
  if (!name?.startsWith("price_")) return;
  const tick = form.elements[name.replace("price_", "take_")];
  if (tick) tick.checked = value !== dataset.offered;
});

document.addEventListener("change", (event) => {
  const { name, checked, form } = event.target;
  if (checked || !name?.startsWith("take_")) return;
  const price = form.elements[name.replace("take_", "price_")];
  if (price) price.value = price.dataset.offered;
});
