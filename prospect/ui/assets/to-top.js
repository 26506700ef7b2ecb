// Brings what is new on a page into sight: what came of an action, or a question that has to be answered first.
(function () {
  "use strict";
  const said = document.querySelector(".cw-said"), form = document.querySelector(".st-key-entry");
  if (said) { said.scrollIntoView({ block: "center" }); } else if (form) { form.scrollIntoView({ block: "start" }); }
})();
