/* Photos go off one by one as they are taken or chosen, made smaller on the phone. Without this file the forms' own
   buttons send them. A photo that did not arrive says so, and is sent again under the same key. */
(function () {
  "use strict";
  var doc = document, LONGEST = 1600;
  doc.querySelectorAll("[data-photos] [type=submit]").forEach(function (button) { button.hidden = true; });
  if (doc.documentElement.dataset.photosReady) { return; }
  doc.documentElement.dataset.photosReady = "1";

  function newKey() {
    var b = crypto.getRandomValues(new Uint8Array(16));
    b[6] = (b[6] & 15) | 64;
    b[8] = (b[8] & 63) | 128;
    var hex = Array.from(b, function (n) { return n.toString(16).padStart(2, "0"); }).join("");
    return hex.replace(/^(.{8})(.{4})(.{4})(.{4})(.{12})$/, "$1-$2-$3-$4-$5");
  }

  function smaller(file) {
    return createImageBitmap(file, { imageOrientation: "from-image" }).then(function (picture) {
      var scale = Math.min(1, LONGEST / Math.max(picture.width, picture.height));
      var canvas = doc.createElement("canvas");
      canvas.width = Math.max(1, Math.round(picture.width * scale));
      canvas.height = Math.max(1, Math.round(picture.height * scale));
      canvas.getContext("2d").drawImage(picture, 0, 0, canvas.width, canvas.height);
      return new Promise(function (done) {
        canvas.toBlob(function (blob) { done(blob || file); }, "image/jpeg", 0.85);
      });
    }).catch(function () { return file; });
  }

  function line(form, name) {
    var words = doc.createElement("p");
    words.className = "note";
    doc.querySelector("[data-photo-states]").append(words);
    return function (said, again) {
      words.textContent = name + ": " + said;
      if (!again) { return; }
      var button = doc.createElement("button");
      button.type = "button";
      button.className = "go plain";
      button.textContent = "Send again";
      button.addEventListener("click", again);
      words.append(" ", button);
    };
  }

  function send(form, file) {
    var say = line(form, file.name || "photo"), key = newKey();
    say("being made smaller");
    smaller(file).then(function (blob) {
      var body = new FormData(form);
      body.delete("pictures");
      body.set("submission_key", key);
      body.append("pictures", blob, "photo.jpg");
      function go() {
        say("being sent");
        fetch(form.action, { method: "POST", body: body }).then(function (answer) {
          return answer.text().then(function (text) {
            taken(form, answer, new DOMParser().parseFromString(text, "text/html"), say);
          });
        }).catch(function () { say("not sent, there is no connection. It is still here.", go); });
      }
      go();
    });
  }

  function taken(form, answer, page, say) {
    var wrong = page.querySelector(".error-summary li");
    if (!answer.ok) {
      say(wrong ? wrong.textContent.trim() : "not taken in, the shop’s computer answered with an error.");
      return;
    }
    say("sent");
    var old = doc.querySelector("[data-photo-list]"), fresh = page.querySelector("[data-photo-list]");
    if (old && fresh) { old.replaceWith(doc.importNode(fresh, true)); }
  }

  /* photos that go with a form wait in its box, made smaller; a camera gives one at a time, so each is put to those
     before */
  function hold(input) {
    Promise.all(Array.from(input.files, smaller)).then(function (pictures) {
      var box = new DataTransfer();
      input.held = (input.held || []).concat(pictures);
      input.held.forEach(function (one, n) {
        box.items.add(new File([one], "photo-" + (n + 1) + ".jpg", { type: one.type }));
      });
      input.files = box.files;
      sayHeld(input);
    });
  }

  function sayHeld(input) {
    var words = doc.getElementById(input.id + "_held") || doc.createElement("p"), none = doc.createElement("button");
    words.id = input.id + "_held";
    words.className = "hint";
    words.setAttribute("role", "status");
    words.textContent = input.held.length === 1 ? "1 photo goes with it." : input.held.length + " photos go with it.";
    none.type = "button";
    none.className = "quiet";
    none.textContent = "Leave out";
    none.addEventListener("click", function () { input.held = []; input.value = ""; words.remove(); input.focus(); });
    words.append(" ", none);
    input.parentNode.after(words);
  }

  doc.addEventListener("change", function (event) {
    var input = event.target;
    if (!(input instanceof HTMLInputElement) || input.type !== "file") { return; }
    if (input.closest("[data-shrink]") && input.files.length) { hold(input); }
    if (!input.closest("[data-photos]")) { return; }
    Array.from(input.files).forEach(function (file) { send(input.form, file); });
    input.value = "";
  });
})();
