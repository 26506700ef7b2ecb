// Keeps what is being typed in this tab until the app has it, so that a page loaded anew does not lose the last words.
(function () {
  "use strict";
  const SHELF = "claywalk-typed", YOUNG_MS = 60000, PATIENCE_MS = 15000, STAYED_MS = 1500;
  const BOXES = '[class*="st-key-entry"] [data-testid="stTextInputField"], [class*="st-key-entry"] textarea';

  const touched = new Set(); // by a hand, since this page was loaded

  function shelf() {
    try { return JSON.parse(sessionStorage.getItem(SHELF)) || {}; } catch (error) { return {}; }
  }

  // A field that the app has filled is another one from then on, and takes no older words.
  function nameOf(box) {
    const holder = box.closest('[class*="st-key-"]');
    const own = holder ? Array.from(holder.classList).find((word) => word.startsWith("st-key-")) : "";
    return `${own} ${box.getAttribute("aria-label")}`;
  }

  function remember(event) {
    const box = event.target;
    if (!(box.matches && box.matches(BOXES))) { return; }
    const kept = shelf(), now = Date.now();
    if (event.isTrusted) { touched.add(nameOf(box)); }
    const form = kept.form === location.search ? kept : { form: location.search, words: {} };
    form.words[nameOf(box)] = { text: box.value, at: now };
    try { sessionStorage.setItem(SHELF, JSON.stringify(form)); } catch (error) { /* a browser without storage has the draft */ }
  }

  // The library listens to what a person does: the text goes in the way typing puts it in, and the field is left.
  function putBack(box, text) {
    const kind = box.tagName === "TEXTAREA" ? HTMLTextAreaElement : HTMLInputElement;
    Object.getOwnPropertyDescriptor(kind.prototype, "value").set.call(box, text);
    box.dispatchEvent(new Event("input", { bubbles: true }));
    box.dispatchEvent(new FocusEvent("focusout", { bubbles: true }));
  }

  // The app draws a field more than once while a page comes up: the words are held until they have stayed for a while.
  function bringBack(words, end) {
    const now = Date.now();
    document.querySelectorAll(BOXES).forEach((box) => {
      const name = nameOf(box), word = words[name];
      if (!word) { return; }
      // Whoever is at a field already is not disturbed.
      if (touched.has(name) || document.activeElement === box) { delete words[name]; return; }
      if (box.value !== word.text) { putBack(box, word.text); word.since = now; }
      word.since = word.since || now;
      if (now - word.since > STAYED_MS) { delete words[name]; }
    });
    if (Object.keys(words).length && now < end) { setTimeout(() => bringBack(words, end), 60); }
  }

  if (!window.claywalkTyped) {
    window.claywalkTyped = true;
    document.addEventListener("input", remember, true);
    const kept = shelf(), young = Date.now() - YOUNG_MS;
    if (kept.form === location.search) {
      const words = Object.fromEntries(Object.entries(kept.words).filter(([, word]) => word.at > young));
      bringBack(words, Date.now() + PATIENCE_MS);
    }
  }
})();
