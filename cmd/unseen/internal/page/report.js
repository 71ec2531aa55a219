
"use strict";
document.querySelectorAll("button.copy").forEach(function (button) {
  var table = button.parentNode.querySelector("table");
  var label = button.textContent;
  var name = button.getAttribute("aria-label");
  button.hidden = false;
  function said(text) {
    button.textContent = text;
    button.setAttribute("aria-label", text + name.slice(label.length));
    setTimeout(function () {
      button.textContent = label;
      button.setAttribute("aria-label", name);
    }, 2000);
  }
  function byHand(text) {
    var area = document.createElement("textarea");
    area.value = text;
    document.body.appendChild(area);
    area.select();
    var done = document.execCommand("copy");
    area.remove();
    said(done ? "Copied" : "Could not be copied");
  }
  button.addEventListener("click", function () {
    var lines = [table.dataset.tsv];
    table.querySelectorAll("tbody tr").forEach(function (row) { lines.push(row.dataset.tsv); });
    var text = lines.join("\n") + "\n";
    if (navigator.clipboard && window.isSecureContext) {
      navigator.clipboard.writeText(text).then(function () { said("Copied"); }, function () { byHand(text); });
    } else {
      byHand(text);
    }
  });
});
(function () {
  function hint() {
    document.querySelectorAll(".scroll").forEach(function (frame) {
      var line = frame.previousElementSibling;
      if (line && line.classList.contains("hint")) line.hidden = frame.scrollWidth <= frame.clientWidth + 1;
    });
  }
  addEventListener("load", hint);
  addEventListener("resize", hint);
  document.addEventListener("toggle", hint, true);
})();
