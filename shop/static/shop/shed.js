/* Small conveniences. Every page works without this file; nothing here decides anything. */
(function () {
  "use strict";
  var doc = document;
  var NUMBER = /^\s*(\d+(?:[.,]\d+)?)(.*)$/;

  function near(node, selector) { return node instanceof Element ? node.closest(selector) : null; }

  /* plus and minus beside an amount: keeps the decimal sign and the unit that were typed, never goes below nothing */
  function step(button) {
    var box = button.closest(".stepper"), input = box.querySelector("input"), size = box.dataset.step;
    var found = NUMBER.exec(input.value || "0");
    if (!found || /\d/.test(found[2])) { input.focus(); return; }
    var places = Math.max((size.split(".")[1] || "").length, (found[1].split(/[.,]/)[1] || "").length);
    var value = parseFloat(found[1].replace(",", ".")) + (button.className === "more" ? 1 : -1) * parseFloat(size);
    var text = Math.max(0, value).toFixed(places);
    input.value = (found[1].indexOf(",") < 0 ? text : text.replace(".", ",")) + found[2];
    input.dispatchEvent(new Event("input", { bubbles: true }));
  }

  /* a tap on the board's drawing fills the fields of the place in millimetres, to the next 5 */
  function point(place, event) {
    var svg = place.querySelector("svg"), data = place.dataset, at = svg.getScreenCTM();
    if (!at) { return; }
    var p = new DOMPoint(event.clientX, event.clientY).matrixTransform(at.inverse());
    var along = Math.max(0, Math.round((p.x - data.tail) / data.scale / 5) * 5);
    var across = Math.round((p.y - data.middle) / data.across / 5) * 5;
    fill(data.x, along + " mm");
    fill(data.y, (data.side ? Math.abs(across) : across) + " mm");
    if (data.side) {
      var choice = doc.querySelector('[name="' + data.side + '"][value="' + (across < 0 ? "left" : "right") + '"]');
      if (choice) { choice.checked = true; }
    }
    var pin = place.querySelector(".new-pin");
    pin.setAttribute("transform", "translate(" + p.x.toFixed(1) + " " + p.y.toFixed(1) + ")");
    pin.removeAttribute("display");
  }
  function fill(id, text) {
    var input = doc.getElementById(id);
    if (input) { input.value = text; input.dispatchEvent(new Event("input", { bubbles: true })); }
  }

  doc.addEventListener("click", function (event) {
    var button = near(event.target, ".stepper button"), place = near(event.target, "[data-place] svg");
    if (button) { step(button); }
    doc.querySelectorAll(".band [open]").forEach(function (m) { m.open = m.contains(event.target); });
    if (place) { point(place.closest("[data-place]"), event); }
    if (near(event.target, "[data-print]")) { window.print(); }
    var eye = near(event.target, "[data-show]"), box = eye && doc.getElementById(eye.dataset.show);
    if (box) {
      eye.textContent = box.type === "text" ? "Show" : "Hide";
      box.type = box.type === "text" ? "password" : "text";
    }
  });

  /* a form goes off once: forms that htmx sends say so themselves, the others are held here */
  doc.addEventListener("submit", function (event) {
    var form = event.target;
    if (form.method !== "post" || form.hasAttribute("hx-boost")) { return; }
    if (form.dataset.sent) { event.preventDefault(); return; }
    form.dataset.sent = "1";
    form.querySelectorAll("[type=submit]").forEach(function (b) { b.setAttribute("aria-busy", "true"); });
  });
  window.addEventListener("pageshow", function () {
    doc.querySelectorAll("[data-sent]").forEach(function (form) {
      delete form.dataset.sent;
      form.querySelectorAll("[aria-busy]").forEach(function (b) { b.removeAttribute("aria-busy"); });
    });
  });

  /* a form that did not arrive keeps its entries and says so; the same key is sent again */
  function notSent(event) {
    var form = near(event.detail.elt, "form");
    if (!form) { return; }
    received(event);
    var line = doc.createElement("div"), words = doc.createElement("p"), again = doc.createElement("button");
    var status = event.detail.xhr ? event.detail.xhr.status : 0;
    line.className = "note error not-sent";
    line.setAttribute("role", "alert");
    words.textContent = "Not sent. Your entry is still here." + (
      status === 413 ? " It is too large: choose a smaller picture." :
      status === 403 ? " Your login does not allow it, or it has run out." :
      status >= 400 ? " The shop’s computer answered with an error." : " There is no connection at the moment.");
    again.type = "submit";
    again.className = "go plain";
    again.textContent = "Send again";
    line.append(words, again);
    form.append(line);
    again.focus();
  }
  function received(event) {
    var form = near(event.detail.elt, "form");
    if (form) { form.querySelectorAll(".not-sent").forEach(function (line) { line.remove(); }); }
  }
  doc.addEventListener("htmx:sendError", notSent);
  doc.addEventListener("htmx:timeout", notSent);
  doc.addEventListener("htmx:responseError", notSent);
  doc.addEventListener("htmx:beforeSend", function (event) {
    received(event);
    var form = near(event.detail.elt, "form");
    if (form) { form.setAttribute("aria-busy", "true"); }
  });
  doc.addEventListener("htmx:afterRequest", function (event) {
    var form = near(event.detail.elt, "form");
    if (form) { form.removeAttribute("aria-busy"); }
  });

  /* buttons that need this file appear; what went wrong gets the focus, otherwise the new page does */
  function ready(swapped) {
    var waiting = ".stepper button[hidden], [data-print][hidden], [data-show][hidden]";
    doc.querySelectorAll(waiting).forEach(function (b) { b.hidden = false; });
    var wrong = doc.querySelector("[data-focus]"), main = doc.getElementById("main");
    if (wrong) { wrong.focus(); } else if (swapped && main) { main.focus({ preventScroll: true }); }
  }
  doc.addEventListener("htmx:afterSettle", function (event) { ready(event.detail.target === doc.body); });
  if (doc.readyState !== "loading") { ready(false); }
  else { doc.addEventListener("DOMContentLoaded", function () { ready(false); }); }
})();
