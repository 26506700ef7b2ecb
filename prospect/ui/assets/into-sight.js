// Brings the page under the map into sight on a narrow screen.
(function () {
  "use strict";
  const page = document.querySelector('[class*="st-key-reading-"]');
  if (page && innerWidth < 900) { page.scrollIntoView({ block: "start", behavior: "smooth" }); }
})();
