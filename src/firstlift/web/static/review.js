// The moment under the cursor of the traces, put into the field that asks for a moment.
for (const button of document.querySelectorAll("[data-cursor-into]")) {
  const traces = document.querySelector("firstlift-traces");
  if (!traces) continue;
  button.hidden = false;
  button.addEventListener("click", () => {
    const field = button.form.elements[button.dataset.cursorInto];
    if (Number.isFinite(traces.at)) field.value = traces.at.toFixed(4);
    field.focus();
  });
}
