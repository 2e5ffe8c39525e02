// Says beside a field, while it is filled in, what its value says: a hull number
// is read, and looked up in the club's books. Without this script, or without a
// link, the second button of the form does the same.
(() => {
  "use strict";
  const patience = 10 * 1000; // milliseconds
  const pause = 400;

  function follow(field) {
    const place = document.getElementById(`${field.id}-reading`);
    if (!place) return;
    let later;
    let asked = field.value.trim();
    const ask = async () => {
      const value = field.value.trim();
      if (value === asked) return;
      asked = value;
      if (value === "") {
        place.replaceChildren();
        return;
      }
      try {
        const answer = await fetch(field.dataset.reads + encodeURIComponent(value), { signal: AbortSignal.timeout(patience) });
        const page = new DOMParser().parseFromString(await answer.text(), "text/html");
        const reading = page.getElementById("reading");
        if (asked === value) place.replaceChildren(...(answer.ok && reading ? reading.childNodes : []));
      } catch {
        if (asked === value) place.replaceChildren(); // no link: it is read when it is sent
      }
    };
    field.addEventListener("input", () => {
      clearTimeout(later);
      later = setTimeout(ask, pause);
    });
    field.addEventListener("change", ask);
  }

  const followAll = place => place.querySelectorAll("input[data-reads]").forEach(follow);
  followAll(document);
  document.addEventListener("part-shown", event => followAll(event.target));
})();
