/* The pages work without this. It saves a double press, adds a line in place and prints. */
"use strict";

document.addEventListener("submit", (event) => {
  const form = event.target;
  if (form.method !== "post" || form.hasAttribute("hx-post")) return;
  if (form.dataset.sent) {
    event.preventDefault();
    return;
  }
  form.dataset.sent = "1";
  event.submitter?.setAttribute("aria-disabled", "true");
});

// A page that comes back from the browser's memory may be sent again.
window.addEventListener("pageshow", () => {
  for (const form of document.querySelectorAll("form[data-sent]")) delete form.dataset.sent;
  for (const button of document.querySelectorAll("button[aria-disabled]")) button.removeAttribute("aria-disabled");
});

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

// A new line is asked of the address that its form is sent to.
document.addEventListener("htmx:configRequest", (event) => {
  const { elt } = event.detail;
  if (elt.name === "add_line") event.detail.path = elt.form.getAttribute("action") || location.pathname + location.search;
});
