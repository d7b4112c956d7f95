/* The search box works without this: "/" puts the cursor in it. */
"use strict";

document.addEventListener("keydown", (event) => {
  if (event.key !== "/" || event.ctrlKey || event.metaKey || event.altKey || event.defaultPrevented) return;
  if (event.target.closest("input, textarea, select, [contenteditable]")) return;
  const field = document.getElementById("seek");
  if (!field) return;
  event.preventDefault();
  // A narrow window has a link in its place.
  if (!field.offsetParent) document.querySelector(".seek-link")?.click();
  field.focus();
  field.select();
});
