/* The pages work without this. It adds a line in place, drops old mistakes and prints. */
"use strict";

document.addEventListener("click", (event) => {
  if (event.target.closest("[data-print]")) window.print();
});

// A new line is asked of the address that its form is sent to.
document.addEventListener("htmx:configRequest", (event) => {
  const { elt } = event.detail;
  if (elt.name === "add_line") event.detail.path = elt.form.getAttribute("action") || location.pathname + location.search;
});

// What was just typed is judged anew below its field, so an older mistake beside it goes.
document.addEventListener("studio:understood", (event) => {
  const field = event.target;
  if (!field.value.trim() && field.getAttribute("aria-required")) return;
  dropMistake(field);
  field.removeAttribute("aria-invalid");
});

document.addEventListener("studio:not-understood", (event) => dropMistake(event.target));

function dropMistake(field) {
  const mistake = document.getElementById(`${field.id}_error`);
  if (!mistake) return;
  mistake.remove();
  const described = field.getAttribute("aria-describedby") ?? "";
  field.setAttribute("aria-describedby", described.split(" ").filter((id) => id !== mistake.id).join(" "));
}
