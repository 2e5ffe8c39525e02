// Keeps on the phone what was entered while there is no link, and sends it once
// the link is back. Without this script every form works as forms do.
//
// A form with data-keep is written down here before it is sent; a form with
// data-photos hands each photo over in pieces. What is written down leaves when
// the club's books have taken it or refused it. Each entry carries the key of its
// form, so that sending it twice does its work once.
(() => {
  "use strict";
  if (!window.indexedDB || !window.crypto || !crypto.randomUUID) return;

  const who = document.body.dataset.who || "";
  const pieceSize = 256 * 1024;
  const draftDays = 30;
  const tryEvery = 10 * 1000; // milliseconds
  const patience = 30 * 1000;

  // ---- what is kept: "outbox" by its key, "drafts" by person and form ----

  const opened = new Promise((done, failed) => {
    const request = indexedDB.open("kept", 1);
    request.onupgradeneeded = () => {
      request.result.createObjectStore("outbox", { keyPath: "key" });
      request.result.createObjectStore("drafts", { keyPath: "form" });
    };
    request.onsuccess = () => done(request.result);
    request.onerror = () => failed(request.error);
  });

  // A change is done when it is on the disk of the phone.
  async function change(store, work) {
    const db = await opened;
    return new Promise((done, failed) => {
      const t = db.transaction(store, "readwrite", { durability: "strict" });
      work(t.objectStore(store));
      t.oncomplete = () => done();
      t.onerror = t.onabort = () => failed(t.error);
    });
  }
  async function read(store, ask) {
    const db = await opened;
    return new Promise((done, failed) => {
      const request = ask(db.transaction(store).objectStore(store));
      request.onsuccess = () => done(request.result);
      request.onerror = () => failed(request.error);
    });
  }
  const keep = entry => change("outbox", s => s.put(entry));
  const drop = entry => change("outbox", s => s.delete(entry.key));
  const kept = async () => (await read("outbox", s => s.getAll())).sort((a, b) => a.at - b.at);

  // ---- sending ----

  // send gives "done", "waiting" or "refused", with words or the next address.
  async function send(entry, progress) {
    try {
      if (entry.file) {
        const come = await sendPieces(entry, progress);
        if (come) return come;
      }
      const body = entry.file ? formData(entry) : new URLSearchParams(entry.pairs);
      return await outcome(await post(entry.address, body));
    } catch {
      return { what: "waiting", words: "There is no link to the club’s books." };
    }
  }

  function post(address, body) {
    return fetch(address, { method: "POST", body, headers: { Accept: "application/json" }, signal: AbortSignal.timeout(patience) });
  }

  function formData(entry) {
    const data = new FormData();
    for (const [name, value] of entry.pairs) data.append(name, value);
    data.append("upload", entry.upload);
    return data;
  }

  async function outcome(response) {
    if (response.redirected || response.ok) return { what: "done", to: response.url };
    const words = await detail(response);
    if (response.status === 401) return { what: "waiting", words: "Sign in again, then it is sent." };
    if (response.status >= 500 || response.status === 429) return { what: "waiting", words };
    return { what: "refused", words };
  }

  async function detail(response) {
    try {
      return (await response.json()).detail || response.statusText;
    } catch {
      return response.statusText;
    }
  }

  // sendPieces sends what is not there yet of a photo. It gives an outcome when
  // something stands against it.
  async function sendPieces(entry, progress) {
    const size = entry.file.size;
    const at = (n, piece) => post(`${entry.pieces}?at=${n}&size=${size}`, piece);
    let response = await at(0, new Blob());
    for (;;) {
      if (!response.ok) return outcome(response);
      const { here } = await response.json();
      if (progress) progress(here, size);
      if (here >= size) return null;
      response = await at(here, entry.file.slice(here, here + pieceSize));
    }
  }

  // settle writes down what came of sending an entry.
  async function settle(entry, come) {
    if (come.what === "done") return drop(entry);
    entry.state = come.what;
    entry.words = come.words;
    return keep(entry);
  }

  // flush sends what waits, the oldest first, in one tab at a time.
  async function flush() {
    if (!who) return;
    const work = async lock => {
      if (!lock) return;
      for (const entry of await kept()) {
        if (entry.who !== who || entry.state !== "waiting") continue;
        const come = await send(entry);
        await settle(entry, come);
        if (come.what === "waiting") break;
      }
    };
    if (navigator.locks) await navigator.locks.request("outbox", { ifAvailable: true }, work);
    else await work(true);
    await tell();
  }

  // ---- forms ----

  const pairsOf = (form, submitter) => {
    const pairs = Array.from(new FormData(form)).filter(([, value]) => typeof value === "string");
    if (submitter && submitter.name) pairs.push([submitter.name, submitter.value]);
    return pairs;
  };
  const draftKey = form => who + " " + new URL(form.action).pathname + " " + form.id;

  function entryOf(form, pairs) {
    return {
      key: new Map(pairs).get("key"), who, address: new URL(form.action).pathname, page: location.pathname + location.search,
      title: document.querySelector("h1").innerText, form: draftKey(form), pairs, at: Date.now(), state: "waiting", words: "",
    };
  }

  function noteAt(form, words) {
    let note = form.querySelector(".kept-note");
    if (!note) {
      note = document.createElement("p");
      note.className = "note kept-note";
      note.setAttribute("role", "status");
      note.tabIndex = -1;
      form.prepend(note);
    }
    note.textContent = words;
    return note;
  }

  // fresh makes a form ready for the next thing: empty, with ids of its own.
  function fresh(form) {
    form.reset();
    for (const hidden of form.querySelectorAll("input[data-fresh]")) hidden.value = crypto.randomUUID();
  }

  function keepForm(form) {
    const id = draftKey(form);
    let later;
    const saveDraft = () => change("drafts", s => s.put({ form: id, who, at: Date.now(), pairs: pairsOf(form) }));
    form.addEventListener("input", () => {
      clearTimeout(later);
      later = setTimeout(saveDraft, 250);
    });
    addEventListener("pagehide", () => { if (later && !form.dataset.gone) saveDraft(); });
    form.addEventListener("submit", async event => {
      if (event.submitter?.name === "more") return; // asks only, and gives no order
      event.preventDefault();
      clearTimeout(later);
      later = null;
      const entry = entryOf(form, pairsOf(form, event.submitter));
      await keep(entry);
      await change("drafts", s => s.delete(id));
      const come = await send(entry);
      if (come.what === "done") {
        form.dataset.gone = "yes";
        await drop(entry);
        location.assign(come.to);
      } else if (come.what === "refused") {
        form.dataset.gone = "yes";
        await drop(entry);
        HTMLFormElement.prototype.submit.call(form); // the page says what to mend
      } else {
        await settle(entry, come);
        fresh(form);
        noteAt(form, `${come.words} It is kept on this phone, and is sent as soon as it can be. You can go on with the next one, or leave this page.`).focus();
        await tell();
      }
    });
  }

  async function restoreDraft(form) {
    const draft = await read("drafts", s => s.get(draftKey(form)));
    if (!draft || draft.who !== who || document.getElementById("problems")) return;
    const values = new Map();
    for (const [name, value] of draft.pairs) values.set(name, (values.get(name) || []).concat(value));
    for (const field of form.elements) {
      if (!field.name || field.type === "file") continue;
      const list = values.get(field.name) || [];
      if (field.type === "radio" || field.type === "checkbox") field.checked = list.includes(field.value);
      else if (field.tagName !== "BUTTON" && list.length > 0) field.value = list[0];
      if (list.join("") !== "" && field.type !== "hidden") field.closest("details")?.setAttribute("open", "");
    }
    const note = noteAt(form, draft.words ? `It was not taken: ${draft.words} ` : "What you had typed here is back. ");
    const anew = document.createElement("button");
    anew.type = "button";
    anew.className = "quiet";
    anew.textContent = "Begin anew";
    anew.addEventListener("click", async () => {
      await change("drafts", s => s.delete(draftKey(form)));
      fresh(form);
      note.remove();
    });
    note.append(anew);
  }

  // ---- photos ----

  function keepPhotos(form) {
    const most = Number(form.dataset.most);
    form.addEventListener("submit", async event => {
      const files = Array.from(form.querySelectorAll("input[type=file]")).flatMap(input => Array.from(input.files));
      if (files.length === 0) return; // the page says so
      event.preventDefault();
      const pairs = pairsOf(form).filter(([name]) => name !== "key" && name !== "photo");
      const entries = [];
      const refused = [];
      for (const file of files) {
        if (file.size > most) {
          refused.push(`${file.name}: the file has more than ${most >> 20} MB; take the photo with fewer pixels.`);
          continue;
        }
        const photo = crypto.randomUUID();
        const key = crypto.randomUUID();
        const entry = entryOf(form, pairs.concat([["key", key], ["photo", photo]]));
        Object.assign(entry, { key, file, name: file.name, upload: photo, pieces: `/boats/${form.dataset.photos}/uploads/${photo}` });
        entries.push(entry);
        await keep(entry);
      }
      form.querySelectorAll("input[type=file]").forEach(input => { input.value = ""; });
      await sendPhotos(form, entries, refused);
    });
  }

  async function sendPhotos(form, entries, refused) {
    let waiting = 0;
    let to = "";
    for (const [i, entry] of entries.entries()) {
      const words = `Photo ${i + 1} of ${entries.length}: `;
      const come = await send(entry, (here, size) => noteAt(form, `${words}${Math.round(100 * here / size)} % is there.`));
      await settle(entry, come);
      if (come.what === "done") to = come.to;
      if (come.what === "waiting") waiting++;
      if (come.what === "refused") {
        refused.push(`${entry.name}: ${come.words}.`);
        await drop(entry);
      }
    }
    await tell();
    if (waiting + refused.length === 0) {
      location.assign(to);
      return;
    }
    if (waiting > 0) refused.push(`There is no link. ${waiting} of ${entries.length} photos are kept on this phone, and are sent as soon as they can be.`);
    noteAt(form, refused.join(" ")).focus();
  }

  // ---- telling what is kept ----

  async function tell() {
    const entries = await kept();
    const mark = document.getElementById("kept");
    if (mark) {
      mark.hidden = entries.length === 0;
      mark.textContent = `${entries.length} not sent yet`;
    }
    list(entries);
  }

  const stateWords = entry => {
    if (who && entry.who !== who) return "Somebody else entered it here. It is sent when they sign in again.";
    if (entry.state === "refused") return `It was not taken: ${entry.words}`;
    return entry.words ? `It waits. ${entry.words}` : "It waits for the link.";
  };

  function list(entries) {
    const place = document.getElementById("kept-list");
    if (!place) return;
    document.getElementById("kept-none").hidden = entries.length > 0;
    place.replaceChildren(...entries.map(entry => {
      const item = document.createElement("li");
      const title = document.createElement("strong");
      title.textContent = entry.name ? `${entry.title}: ${entry.name}` : entry.title;
      const words = document.createElement("p");
      words.textContent = `Entered ${new Date(entry.at).toLocaleString()}. ${stateWords(entry)}`;
      item.append(title, words);
      if (!who || entry.who === who) item.append(buttons(entry));
      return item;
    }));
  }

  function buttons(entry) {
    const row = document.createElement("p");
    row.className = "buttons";
    const add = (label, act) => {
      const button = document.createElement("button");
      button.type = "button";
      button.className = "second";
      button.textContent = label;
      button.setAttribute("aria-label", `${label}: ${entry.title}`);
      button.addEventListener("click", act);
      row.append(button);
    };
    if (entry.state === "refused" && !entry.file) add("Open the form again", () => reopen(entry));
    if (entry.state === "waiting" && who) add("Send it now", flush);
    add("Throw it away", async () => {
      if (!confirm("It is nowhere else. Throw it away?")) return;
      await drop(entry);
      await tell();
    });
    return row;
  }

  // reopen lays what was refused into its form, with a key of its own: what was
  // refused has done nothing.
  async function reopen(entry) {
    const pairs = entry.pairs.map(([name, value]) => name === "key" ? [name, crypto.randomUUID()] : [name, value]);
    await change("drafts", s => s.put({ form: entry.form, who, at: Date.now(), pairs, words: entry.words }));
    await drop(entry);
    location.assign(entry.page);
  }

  // ---- this page ----

  async function begin() {
    const old = Date.now() - draftDays * 24 * 3600 * 1000;
    const stale = (await read("drafts", s => s.getAll())).filter(d => d.at < old);
    await change("drafts", s => stale.forEach(d => s.delete(d.form)));
    for (const form of document.querySelectorAll("form[data-keep]")) {
      await restoreDraft(form);
      keepForm(form);
      form.dataset.keeping = "yes";
    }
    for (const form of document.querySelectorAll("form[data-photos]")) {
      keepPhotos(form);
      form.dataset.keeping = "yes";
    }
    document.getElementById("sign-out")?.addEventListener("submit", async () => {
      const drafts = await read("drafts", s => s.getAll());
      await change("drafts", s => drafts.filter(d => d.who === who).forEach(d => s.delete(d.form)));
    });
    await tell();
    await flush();
  }

  // The neutral page, shown while nothing can be reached, gives way to the real
  // one as soon as it can.
  async function again() {
    if (document.body.dataset.neutral === undefined) return flush();
    try {
      const there = await fetch("/not-sent?neutral=yes", { cache: "no-store", signal: AbortSignal.timeout(patience) });
      if (there.ok) location.reload();
    } catch {
      // still no link
    }
  }

  addEventListener("online", again);
  document.addEventListener("visibilitychange", () => { if (!document.hidden) again(); });
  setInterval(async () => {
    if (document.body.dataset.neutral !== undefined || (await kept()).some(e => e.state === "waiting")) await again();
  }, tryEvery);
  if (navigator.serviceWorker) navigator.serviceWorker.register("/sw.js").catch(() => {});
  begin();
})();
