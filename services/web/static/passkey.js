// Passkeys: asks the browser to make one or to sign in with one, and sends its
// answer by the form of the page. Without this script the forms stay hidden, and
// the link by mail signs in.
(() => {
  "use strict";
  const make = document.getElementById("passkey-new");
  const use = document.getElementById("passkey");
  if (!(make || use)) return;
  if (!window.PublicKeyCredential || !PublicKeyCredential.parseCreationOptionsFromJSON || !PublicKeyCredential.prototype.toJSON) return;

  async function options(address) {
    const response = await fetch(address, { method: "POST", headers: { Accept: "application/json" } });
    const body = await response.json();
    if (!response.ok) throw new Error(body.detail || response.statusText);
    return body.publicKey;
  }

  // On click the browser is asked; its answer goes with the form. Somebody who
  // changed their mind (NotAllowedError) has said so to the browser already.
  function wire(place, credential) {
    const form = place.querySelector("form");
    const note = place.querySelector("[role=status]");
    place.hidden = false;
    let asked = false;
    form.addEventListener("submit", async event => {
      if (asked) return;
      event.preventDefault();
      if (!form.reportValidity()) return;
      note.textContent = "";
      try {
        form.elements.response.value = JSON.stringify(await credential());
      } catch (err) {
        note.textContent = err.name === "NotAllowedError" ? note.dataset.stopped
          : err.name === "InvalidStateError" ? note.dataset.already : `${note.dataset.failed} ${err.message}`;
        return;
      }
      asked = true;
      HTMLFormElement.prototype.submit.call(form);
    });
  }

  if (make) {
    document.getElementById("passkey-not").hidden = true;
    wire(make, async () => navigator.credentials.create({ publicKey: PublicKeyCredential.parseCreationOptionsFromJSON(await options("/passkeys/ask")) }));
  }
  if (use) {
    wire(use, async () => navigator.credentials.get({ publicKey: PublicKeyCredential.parseRequestOptionsFromJSON(await options("/passkeys/sign-in/ask")) }));
  }
})();
