/* The pages work without this. It adds a line in place, drops old mistakes, shows a long choice whole and prints. */
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

// What a choice too narrow for its words cuts off stands whole below it.
const ruler = document.createElement("canvas").getContext("2d");

function showWhole(select) {
  const style = getComputedStyle(select);
  ruler.font = `${style.fontWeight} ${style.fontSize} ${style.fontFamily}`;
  const text = select.selectedOptions[0]?.textContent.trim() ?? "";
  const arrow = 20;
  const room = select.clientWidth - parseFloat(style.paddingLeft) - parseFloat(style.paddingRight) - arrow;
  let line = select.parentElement.querySelector(":scope > .chosen");
  const isCut = select.clientWidth > 0 && select.value !== "" && ruler.measureText(text).width > room;
  if (!isCut) return line?.remove();
  if (!line) {
    line = document.createElement("span");
    line.className = "chosen";
    // A reader is told the whole choice by the field itself.
    line.setAttribute("aria-hidden", "true");
    select.after(line);
  }
  line.textContent = text;
}

function showAllWhole() {
  document.querySelectorAll(".field > select").forEach(showWhole);
}

document.addEventListener("change", (event) => {
  if (event.target.matches(".field > select")) showWhole(event.target);
});
document.addEventListener("htmx:afterSettle", showAllWhole);
// What is folded away has no width until it opens.
document.addEventListener("toggle", showAllWhole, true);
addEventListener("resize", showAllWhole);
document.fonts.ready.then(showAllWhole);
