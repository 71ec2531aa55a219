"use strict";
// What the page does without this script by links and forms, it does here
// without loading anew: the view asked for is fetched, and its parts put in the
// place of those shown.
(function () {
  const regions = ["top", "said", "river", "work", "drawer"];
  let turn = 0, under = null;
  // Marked as data-busy from the start; said to be, and greyed, when it takes long.
  const body = document.body;

  function status(text) { document.getElementById("status").textContent = text; }

  // where is an element that has the same place in another state of the page.
  function where(e) {
    if (!e || e === body) return null;
    if (e.id) return "#" + CSS.escape(e.id);
    if (e.name && e.form && e.form.id) return "#" + CSS.escape(e.form.id) + " [name=" + CSS.escape(e.name) + "][value=" + CSS.escape(e.value) + "]";
    const a = e.closest("a[href]");
    if (a) return 'a[href="' + CSS.escape(a.getAttribute("href")) + '"]';
    return null;
  }

  function swap(html, address, push) {
    const next = new DOMParser().parseFromString(html, "text/html");
    if (!next.getElementById("work") || !next.getElementById("top")) return false;
    const active = document.activeElement, focus = where(active);
    const open = [...document.querySelectorAll("details[open][id]")].map(d => d.id);
    const start = active && active.selectionStart !== undefined && active.type !== "range" ? active.selectionStart : null;
    const hadDrawer = !document.getElementById("drawer").hidden;
    for (const id of regions) {
      const from = next.getElementById(id), to = document.getElementById(id);
      if (from && to && from.outerHTML !== to.outerHTML) to.replaceWith(document.adoptNode(from));
    }
    document.title = next.title;
    body.dataset.mark = next.body.dataset.mark;
    for (const id of open) { const d = document.getElementById(id); if (d) d.open = true; }
    if (push) history.pushState(null, "", address);
    const drawer = document.getElementById("drawer");
    const again = focus && document.querySelector(focus);
    if (!drawer.hidden && !hadDrawer) {
      const close = document.getElementById("close-drawer");
      close.focus();
      drawer.scrollIntoView({ block: "nearest" });
    } else if (again && again !== document.activeElement) {
      again.focus({ preventScroll: true });
      if (start !== null && again.setSelectionRange) { try { again.setSelectionRange(start, start); } catch (e) { /* not a text */ } }
    } else if (!again && focus) {
      const open = document.querySelector(".part.open h2 a");
      if (open) open.focus({ preventScroll: true });
    }
    ready();
    return true;
  }

  // What takes longer than a second can be stopped, but for what changes the study.
  let since = 0, stoppable = false;
  setInterval(() => {
    const s = Math.floor((Date.now() - since) / 1000), show = since > 0 && s > 0;
    document.getElementById("wait").hidden = !show;
    document.getElementById("stop-wait").hidden = !stoppable;
    if (show) document.getElementById("wait-time").textContent = s + " s";
  }, 250);
  document.addEventListener("click", e => {
    if (e.target.id !== "stop-wait") return;
    turn++;
    under.abort();
    done();
    for (const i of document.querySelectorAll("form[data-slide] input[type=range]")) { i.value = i.defaultValue; tell(i); }
    status("Stopped. The page shows what it showed before.");
  });
  function done() { since = 0; body.removeAttribute("data-busy"); body.removeAttribute("aria-busy"); }

  async function go(address, options, push) {
    const mine = ++turn;
    if (under) under.abort();
    under = new AbortController();
    body.setAttribute("data-busy", "");
    since = Date.now();
    stoppable = !options.method;
    const slow = setTimeout(() => { status("Working it out …"); body.setAttribute("aria-busy", "true"); }, 300);
    try {
      const answer = await fetch(address, Object.assign({ signal: under.signal, headers: { Accept: "text/html" } }, options));
      const html = await answer.text();
      if (mine !== turn) return;
      if (!(answer.headers.get("Content-Type") || "").startsWith("text/html")) { status(html.trim()); return; }
      if (!swap(html, answer.url, push && answer.url !== location.href)) { document.open(); document.write(html); document.close(); }
      status("");
    } catch (e) {
      if (e.name !== "AbortError" && mine === turn) status("unseen does not answer. Is it still running? Nothing you wrote here is lost.");
    } finally {
      clearTimeout(slow);
      if (mine === turn) done();
    }
  }

  document.addEventListener("click", e => {
    const a = e.target.closest("a[data-live]");
    if (!a || e.ctrlKey || e.metaKey || e.shiftKey || e.button) return;
    e.preventDefault();
    go(a.href, {}, true);
  });

  document.addEventListener("submit", e => {
    const form = e.target.closest("form[data-live]");
    if (!form) return;
    e.preventDefault();
    send(form, e.submitter);
  });

  function send(form, submitter) {
    const data = new FormData(form, submitter || undefined);
    if (form.method === "get") {
      const to = new URL(form.action);
      to.search = "";
      for (const [k, v] of data) if (v !== "") to.searchParams.append(k, v);
      return go(to.href, {}, true);
    }
    const body = form.enctype === "multipart/form-data" ? data : new URLSearchParams(data);
    return go(form.action, { method: "POST", body: body }, true);
  }

  addEventListener("popstate", () => go(location.href, {}, false));

  // Sliders answer while they are moved.
  let waiting;
  function tell(input) {
    for (const o of input.form.querySelectorAll("output[for='" + input.id + "']")) {
      const list = input.dataset.words ? input.dataset.words.split("|") : null;
      o.textContent = list ? list[input.value] : (+input.value).toLocaleString("en");
    }
  }
  document.addEventListener("input", e => {
    const form = e.target.closest("form[data-slide]");
    if (!form) return;
    tell(e.target);
    clearTimeout(waiting);
    waiting = setTimeout(() => send(form), 120);
  });

  // The whole page takes files.
  let depth = 0;
  function files(e) { return e.dataTransfer && [...e.dataTransfer.types].includes("Files"); }
  document.addEventListener("dragenter", e => { if (files(e)) { depth++; body.classList.add("dropping"); } });
  document.addEventListener("dragleave", e => { if (files(e) && --depth <= 0) body.classList.remove("dropping"); });
  document.addEventListener("dragover", e => { if (files(e)) e.preventDefault(); });
  document.addEventListener("drop", e => {
    if (!files(e)) return;
    e.preventDefault();
    depth = 0;
    body.classList.remove("dropping");
    give(e.dataTransfer.files);
  });
  function give(list) {
    const data = new FormData();
    for (const f of list) data.append("files", f);
    go("/upload", { method: "POST", body: data }, true);
  }
  // Of a folder only its tables are taken.
  document.addEventListener("change", e => {
    if (e.target.id !== "folder") return;
    const tables = [...e.target.files].filter(f => /\.(csv|tsv|txt|xlsx)(\.gz|\.zst)?$/i.test(f.name) && !f.name.startsWith("."));
    if (tables.length) give(tables); else status("There is no table in that folder.");
  });

  // Sites are dragged by their grips, with a mouse, a finger or a pen; buttons
  // do the same.
  let drag = null;
  document.addEventListener("pointerdown", e => {
    const grip = e.target.closest(".grip");
    if (!grip || e.button) return;
    e.preventDefault();
    const item = grip.closest("li");
    drag = { item: item, list: item.parentNode, pointer: e.pointerId, to: null };
    grip.setPointerCapture(e.pointerId);
    item.classList.add("dragged");
  });
  document.addEventListener("pointermove", e => {
    if (!drag || e.pointerId !== drag.pointer) return;
    unmark();
    const items = [...drag.list.children];
    const below = items.find(i => { const r = i.getBoundingClientRect(); return e.clientY < r.top + r.height / 2; });
    drag.to = below ? below.dataset.site : "";
    (below || items[items.length - 1]).classList.add(below ? "before" : "after");
  });
  function unmark() { for (const i of drag.list.children) i.classList.remove("before", "after"); }
  function dropped(e, take) {
    if (!drag || e.pointerId !== drag.pointer) return;
    const { item, list, to } = drag, form = list.closest("form");
    unmark();
    item.classList.remove("dragged");
    drag = null;
    const next = item.nextElementSibling;
    if (!take || to === null || to === item.dataset.site || to === (next ? next.dataset.site : "")) return;
    const data = new URLSearchParams({ do: "move", site: item.dataset.site, above: to });
    for (const k of ["back", "sum"]) data.set(k, form.elements[k].value);
    go(form.action, { method: "POST", body: data }, true);
  }
  document.addEventListener("pointerup", e => dropped(e, true));
  document.addEventListener("pointercancel", e => dropped(e, false));

  document.addEventListener("keydown", e => {
    if (e.key !== "Escape") return;
    const close = document.getElementById("close-drawer");
    if (close) close.click();
  });

  // What goes on elsewhere: the study changed, a long work went on.
  const news = new EventSource("/events");
  let latest = null;
  news.addEventListener("study", e => { latest = e.data; renew(); });
  // What somebody has begun to write is not taken away under their hands, nor
  // is a view that is on its way.
  function written() {
    return [...document.querySelectorAll("#work form[method=post] input:not([type=hidden]), #drawer input:not([type=hidden])")]
      .some(i => i.type !== "file" && i.value !== i.defaultValue);
  }
  function renew() {
    if (latest === null || latest === body.dataset.mark || body.hasAttribute("data-busy")) return;
    if (written()) { status("The study or its data changed. The page shows it when what you are writing is sent or cleared."); return; }
    go(location.href, {}, false);
  }
  setInterval(renew, 2000);
  news.addEventListener("job", e => {
    const job = JSON.parse(e.data), bar = document.getElementById("job-bar");
    if (job.ended) { if (document.getElementById("job")) go(location.href, {}, false); return; }
    if (!bar) return;
    bar.max = job.of; bar.value = job.done;
    document.getElementById("job-words").textContent = job.words;
  });
  addEventListener("pagehide", () => news.close());

  function ready() {
    for (const b of document.querySelectorAll("button.copy[hidden], [data-script][hidden]")) b.hidden = false;
    hints();
  }
  // The line on scrolling stands over those tables that do not fit.
  function hints() {
    for (const f of document.querySelectorAll(".scroll")) {
      const line = f.previousElementSibling;
      if (line?.classList.contains("hint")) line.hidden = f.scrollWidth <= f.clientWidth + 1;
    }
  }
  addEventListener("resize", hints);
  document.addEventListener("toggle", hints, true);
  document.addEventListener("click", e => {
    const b = e.target.closest("button.copy");
    if (!b) return;
    const table = b.parentNode.querySelector("table");
    const lines = [table.dataset.tsv];
    for (const row of table.querySelectorAll("tbody tr")) lines.push(row.dataset.tsv);
    navigator.clipboard.writeText(lines.join("\n") + "\n").then(() => status("The table is copied."), () => status("The table could not be copied."));
  });
  ready();
})();
