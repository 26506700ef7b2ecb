// Lets a phone show its number keys for a field that asks for a number in a unit.
(function () {
  "use strict";
  const BOXES = '[class*="st-key-entry"] input[data-testid="stTextInputField"]';
  const IN_A_UNIT = /\((cm|in|m|ft|mm|g|kg|% by eye|%|°C|°F|days)\)$/;

  // The keyboard is chosen when the field is entered, so it is told just before.
  function tell(event) {
    const box = event.target;
    if (box.matches && box.matches(BOXES) && IN_A_UNIT.test(box.getAttribute("aria-label") || "")) {
      box.inputMode = "decimal";
    }
  }

  if (!window.claywalkNumbers) {
    window.claywalkNumbers = true;
    ["pointerdown", "focusin"].forEach((kind) => document.addEventListener(kind, tell, true));
  }
})();
