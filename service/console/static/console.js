// Comfort only: every act works without this file.
"use strict";
// A form is sent once, however often it is pressed; its key makes a second sending harmless anyway.
document.addEventListener("submit", (event) => {
  if (event.defaultPrevented) return;
  const pressed = event.submitter;
  setTimeout(() => { if (pressed) pressed.disabled = true; }, 0);
  setTimeout(() => { if (pressed) pressed.disabled = false; }, 8000);
});
