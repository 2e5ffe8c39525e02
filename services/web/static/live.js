// Keeps a page up to date while it is in sight: when the server says that
// something changed, the page fetches itself and replaces the parts that differ. A
// part with typed text or the cursor in it is never replaced; its reader is told,
// and what they typed stays when they ask to see what is new. Without this script
// the page is as it was when it was opened.
(() => {
  "use strict";
  const { live, at } = document.body.dataset;
  if (!live || !window.EventSource) return;

  const patience = 15 * 1000; // milliseconds
  const words = document.getElementById("live");
  let seen = Number(at);
  let source = null;
  let busy = false;
  let again = false;

  function listen() {
    if (source || document.hidden) return;
    source = new EventSource(`${live}?after=${seen}`);
    source.addEventListener("changed", event => {
      seen = Math.max(seen, Number(event.lastEventId));
      refresh();
    });
  }

  // Only a page in sight holds a connection: a browser has few for each site.
  function leave() {
    if (source) source.close();
    source = null;
  }

  async function refresh() {
    if (busy) {
      again = true;
      return;
    }
    busy = true;
    try {
      do {
        again = false;
        await fetchPage();
      } while (again);
    } catch {
      // no link: the next change, or the next look at the page, tries again
    } finally {
      busy = false;
    }
  }

  async function fetchPage() {
    const address = new URL(location.href);
    address.searchParams.delete("done");
    const answer = await fetch(address, { headers: { Accept: "text/html" }, signal: AbortSignal.timeout(patience) });
    if (!answer.ok || answer.redirected) return leave(); // signed out, or no longer theirs
    take(new DOMParser().parseFromString(await answer.text(), "text/html"));
  }

  function take(page) {
    let replaced = false;
    for (const part of document.querySelectorAll("[data-part]")) {
      const fresh = page.getElementById(part.id);
      if (!fresh || plain(fresh) === plain(part)) continue;
      if (taken(part)) offer(part, fresh);
      else replaced = replace(part, fresh) || replaced;
    }
    if (replaced) words.textContent = words.dataset.done;
  }

  // plain is a part as far as readers see it: each copy of a form has keys of its own,
  // and what is folded open is the reader's.
  function plain(part) {
    const copy = part.cloneNode(true);
    copy.querySelectorAll("input[type=hidden], .live-new").forEach(e => e.remove());
    copy.querySelectorAll("details").forEach(e => e.removeAttribute("open"));
    return copy.innerHTML.replace(/\s+/g, " ");
  }

  const controls = part => Array.from(part.querySelectorAll("input:not([type=hidden]), textarea, select"));

  function typed(control) {
    if (control.type === "checkbox" || control.type === "radio") return control.checked !== control.defaultChecked;
    if (control.tagName === "SELECT") return Array.from(control.options).some(o => o.selected !== o.defaultSelected && (o.defaultSelected || o.value !== ""));
    return control.value !== control.defaultValue;
  }

  // taken says whether somebody is at work in a part, or another script holds it.
  function taken(part) {
    return part.querySelector("form[data-keep], form[data-photos]") || controls(part).some(c => c === document.activeElement || typed(c));
  }

  function offer(part, fresh) {
    part.querySelector(".live-new")?.remove();
    const note = document.createElement("p");
    note.className = "note live-new";
    note.setAttribute("role", "status");
    const show = document.createElement("button");
    show.type = "button";
    show.className = "second";
    show.textContent = words.dataset.show;
    show.addEventListener("click", () => {
      if (part.querySelector("form[data-keep], form[data-photos]")) location.reload(); // what was typed comes back
      else replace(part, fresh);
    });
    note.append(`${words.dataset.new} `, show);
    part.prepend(note);
  }

  // replace shows what is new, with what was typed, folded open and focused as it was.
  // A form keeps what it started from, so that the server still tells when somebody
  // else wrote into a field in which something was typed.
  function replace(part, fresh) {
    const open = new Set(Array.from(part.querySelectorAll("details[open]"), d => d.querySelector("summary").textContent));
    const values = controls(part).filter(typed).map(c => [c.id, c.type === "checkbox" || c.type === "radio" ? c.checked : c.value]);
    const stood = values.length === 0 ? [] : Array.from(part.querySelectorAll("form"), f => [f.id, f.elements["as-it-stood"]?.value]);
    const held = part.contains(document.activeElement) ? document.activeElement : null;
    const name = held && (held.id ? `#${CSS.escape(held.id)}` : held.getAttribute("href") && `a[href="${CSS.escape(held.getAttribute("href"))}"]`);
    part.replaceChildren(...Array.from(fresh.childNodes, n => document.importNode(n, true)));
    part.dispatchEvent(new Event("part-shown", { bubbles: true })); // for what other scripts do with fields
    part.querySelectorAll("details").forEach(d => { d.open = open.has(d.querySelector("summary").textContent); });
    for (const [id, value] of values) {
      const control = document.getElementById(id);
      if (!control) continue;
      if (typeof value === "boolean") control.checked = value;
      else control.value = value;
    }
    for (const [id, value] of stood) {
      const field = document.getElementById(id)?.elements["as-it-stood"];
      if (field && value !== undefined) field.value = value;
    }
    if (held) (name && part.querySelector(name) || document.getElementById("main")).focus({ preventScroll: true });
    return true;
  }

  document.addEventListener("visibilitychange", () => { if (document.hidden) leave(); else listen(); });
  addEventListener("pagehide", leave);
  addEventListener("pageshow", listen);
  listen();
})();
