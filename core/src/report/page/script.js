"use strict";
(() => {
  const all = (what, from = document) => [...from.querySelectorAll(what)];
  const make = (tag, words, set = {}) => {
    const made = document.createElement(tag);
    if (words) made.textContent = words;
    for (const [name, value] of Object.entries(set)) made.setAttribute(name, value);
    return made;
  };

  // Filter: whatever carries a zone is shown or not; findings are counted.
  const rows = all("[data-zone]").filter((row) => row.matches("tr, article"));
  const findings = all("article[data-zone]");
  if (findings.length > 1) {
    const tools = make("form", "", { class: "tools", "aria-label": "Show only" });
    const choices = {};
    const words = { aware: "be aware", watch: "watch", ask: "ask a mechanic", before_flight: "before flight" };
    const pick = (name, label, key, several) => {
      const values = new Set(findings.flatMap((f) => (several ? f.dataset[key].split(" ") : [f.dataset[key]])));
      values.delete("");
      if (values.size < 1) return;
      const place = make("label", label);
      const select = make("select", "", { name });
      select.append(new Option("all", ""), ...[...values].sort().map((value) => new Option(words[value] || value, value)));
      place.append(select);
      tools.append(place);
      choices[key] = [select, several];
    };
    pick("zone", "Zone", "zone", false);
    pick("chapter", "ATA chapter", "ata", true);
    pick("concern", "Concern", "concern", false);
    // Days by name: no field whose day and month can be taken for one another.
    const since = make("select", "", { name: "since" });
    const days = [...new Set(findings.map((f) => f.dataset.seen))].filter(Boolean).sort();
    const months = ["January", "February", "March", "April", "May", "June", "July", "August", "September", "October", "November", "December"];
    const told = (iso) => { const [y, m, d] = iso.split("-").map(Number); return `${d} ${months[m - 1]} ${y}`; };
    since.append(new Option("any day", ""), ...days.map((iso) => new Option(told(iso), iso)));
    const place = make("label", "Seen since");
    place.append(since);
    const clear = make("button", "Show all", { type: "button" });
    const said = make("output", "");
    tools.append(place, clear, said);
    const apply = () => {
      for (const row of rows) {
        const fits = Object.entries(choices).every(([key, [select, several]]) => {
          if (!select.value || row.dataset[key] === undefined) return true;
          return several ? row.dataset[key].split(" ").includes(select.value) : row.dataset[key] === select.value;
        });
        row.hidden = !(fits && (!since.value || row.dataset.seen === undefined || row.dataset.seen >= since.value));
      }
      const shown = findings.filter((f) => !f.hidden).length;
      said.textContent = shown === findings.length ? "" : `${shown} of ${findings.length} findings shown`;
      document.body.classList.toggle("part", shown !== findings.length);
    };
    tools.addEventListener("input", apply);
    tools.addEventListener("submit", (event) => event.preventDefault());
    clear.addEventListener("click", () => { tools.reset(); apply(); });
    const list = document.querySelector("#worklist h2, #open h2");
    if (list) list.after(tools); else document.querySelector("header").append(tools);
  }

  // The older photo in place of the newer.
  for (const flick of all(".flick")) {
    const under = flick.querySelector(".under");
    if (!under) continue;
    const button = make("button", "Show the older photo here", { type: "button", "aria-pressed": "false" });
    button.addEventListener("click", () => {
      under.hidden = !under.hidden;
      button.setAttribute("aria-pressed", String(!under.hidden));
    });
    const place = make("div", "", { class: "press" });
    place.append(button);
    flick.after(place);
  }

  // Zoom: a picture by itself, larger and smaller, moved by scrolling or the arrow keys.
  const dialog = make("dialog", "", { "aria-label": "Photo, larger" });
  const stage = make("div", "", { class: "stage", tabindex: "0", role: "region", "aria-label": "Photo; arrow keys move it" });
  const bar = make("div", "", { class: "press" });
  let size = 100;
  let back = null;
  const resize = (to) => {
    size = Math.min(800, Math.max(50, to));
    const frame = stage.querySelector(".frame");
    if (frame) frame.style.width = `${size}%`;
  };
  const tool = (words, does) => {
    const button = make("button", words, { type: "button" });
    button.addEventListener("click", does);
    bar.append(button);
  };
  tool("Larger", () => resize(size * 1.4));
  tool("Smaller", () => resize(size / 1.4));
  tool("Whole", () => resize(100));
  tool("Close", () => dialog.close());
  dialog.append(bar, stage);
  dialog.addEventListener("close", () => { stage.replaceChildren(); if (back) back.focus(); });
  dialog.addEventListener("keydown", (event) => {
    if (event.key === "+" || event.key === "=") resize(size * 1.4);
    else if (event.key === "-") resize(size / 1.4);
    else if (event.key === "0") resize(100);
    else return;
    event.preventDefault();
  });
  document.body.append(dialog);
  for (const figure of all("figure.photo")) {
    if (!figure.querySelector(".frame")) continue;
    const caption = figure.querySelector("figcaption");
    const what = figure.querySelector("img").alt;
    const button = make("button", "Zoom", { type: "button", "aria-label": `Zoom: ${what}` });
    button.addEventListener("click", () => {
      const older = figure.querySelector(".under:not([hidden]) .frame");
      stage.replaceChildren((older || figure.querySelector(".frame")).cloneNode(true));
      back = button;
      resize(100);
      dialog.showModal();
      stage.focus();
    });
    let place = figure.querySelector(".press");
    if (!place) { place = make("div", "", { class: "press" }); caption.before(place); }
    place.append(button);
  }

  // The diagram says the zone under the pointer, the finger or the focus.
  const says = document.getElementById("zone-said");
  if (says) {
    const names = new Map(all(".grid tbody th[scope=row], #zones tbody th[scope=row]").map((th) => [th.parentElement.dataset.zone, th.textContent]));
    const drawing = document.querySelector(".drawing svg");
    if (drawing) drawing.setAttribute("role", "group");
    for (const shape of all(".drawing [data-zone]")) {
      const code = shape.dataset.zone;
      const words = names.get(code) || code;
      const hatched = shape.getAttribute("fill").startsWith("url(");
      if (hatched) { shape.setAttribute("tabindex", "0"); shape.setAttribute("role", "img"); shape.setAttribute("aria-label", words); }
      // A drawing that listens for the focus gets it: only what has something to say stands in the way.
      const events = ["pointerenter", "pointerdown", ...(hatched ? ["focus"] : [])];
      for (const event of events) shape.addEventListener(event, () => { says.textContent = `Zone ${words}`; });
    }
  }
})();
