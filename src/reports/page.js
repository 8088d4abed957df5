
(() => {
  "use strict";
  const data = JSON.parse(document.getElementById("points").textContent);
  const all = (css, within = document) => [...within.querySelectorAll(css)];

  // Times add up from steps in milliseconds; values are whole numbers of their last decimal.
  for (const s of data.series) {
    let t = 0;
    s.t = s.t.map((step) => (t += step) / 1000);
    const scale = 10 ** s.d;
    s.v = s.v.map((v) => (v === null ? null : v / scale));
  }

  const clock = (t) => {
    const tenths = Math.round(Math.abs(t) * 100);
    const sign = t < 0 && tenths > 0 ? "-" : "";
    if (!data.clock) return `${sign}${(tenths / 100).toFixed(2)} s`;
    const rest = ((tenths % 6000) / 100).toFixed(2).padStart(5, "0");
    return `${sign}${Math.floor(tenths / 6000)}:${rest}`;
  };

  // The place of the last point that is not after t; -1 before all of them.
  const upTo = (times, t) => {
    let low = 0, high = times.length;
    while (low < high) {
      const middle = (low + high) >> 1;
      if (times[middle] <= t) low = middle + 1; else high = middle;
    }
    return low - 1;
  };

  // A picture keeps the least and the greatest of each short stretch, so points come in pairs: a cell each. Both are
  // true readings, and all that was logged in the stretch lies between them.
  for (const s of data.series) {
    s.cells = [];
    let gap = true;
    for (let k = 0; k < s.t.length; ) {
      if (s.v[k] === null) { gap = true; k += 1; continue; }
      const last = k + 1 < s.t.length && s.v[k + 1] !== null ? k + 1 : k;
      s.cells.push({ gap, from: s.t[k], to: s.t[last], low: Math.min(s.v[k], s.v[last]), high: Math.max(s.v[k], s.v[last]) });
      gap = false;
      k = last + 1;
    }
    s.begins = s.cells.map((cell) => cell.from);
  }

  // What was logged at t: one reading where one is kept of that very moment, else the range around it; null in a hole.
  const EDGE = 0.1;
  const around = (s, t) => {
    for (let k = upTo(s.t, t + 5e-4); k >= 0 && t - s.t[k] < 5e-4; k -= 1) {
      if (s.v[k] !== null) return { low: s.v[k], high: s.v[k] };
    }
    const at = upTo(s.begins, t);
    const before = s.cells[at];
    const after = s.cells[at + 1];
    if (before && t <= before.to) return before;
    if (before && after && !after.gap) return { low: Math.min(before.low, after.low), high: Math.max(before.high, after.high) };
    if (before && t - before.to <= EDGE) return before;
    if (after && after.from - t <= EDGE) return after;
    return null;
  };

  const number = (s, v) => v.toFixed(s.d).replace(/^-(0(\.0*)?)$/, "$1");
  const figureOf = (s, seen) => {
    const [low, high] = [number(s, seen.low), number(s, seen.high)];
    return `${low === high ? low : `${low} to ${high}`}${s.u ? ` ${s.u}` : ""}`;
  };

  // The panel with all readings of one moment.
  const panel = document.createElement("section");
  panel.id = "reading";
  panel.setAttribute("aria-label", "Readings at the moment pointed at");
  panel.hidden = true;
  document.querySelector("main").append(panel);

  const papers = all(".paper[data-plot]").map((element) => ({
    element,
    plot: data.plots[Number(element.dataset.plot)],
    name: element.querySelector("svg").getAttribute("aria-label"),
  }));

  // The drawing that the page shows, and where its readings stand on it. Two drawn pixels make one page pixel.
  const shown = (paper) => {
    for (const kind of ["desk", "phone"]) {
      const box = paper.element.querySelector(`.${kind}`);
      if (box && box.offsetParent !== null) {
        const [left, right, top, bottom] = paper.plot[kind].map((edge) => edge * 2);
        return { svg: box.querySelector("svg"), left, right, top, bottom };
      }
    }
    return null;
  };

  const marks = [];
  const unmark = () => { while (marks.length) marks.pop().remove(); };
  const draw = (svg, name, attributes) => {
    const made = document.createElementNS(svg.namespaceURI, name);
    for (const [key, value] of Object.entries(attributes)) made.setAttribute(key, value);
    svg.append(made);
    marks.push(made);
  };

  const across = (paper, field, t) => {
    const [from, to] = paper.plot.x;
    return field.left + ((t - from) / (to - from)) * (field.right - field.left);
  };

  let now = null;
  const show = (here, t) => {
    now = t;
    unmark();
    for (const paper of papers) {
      const field = shown(paper);
      const [from, to] = paper.plot.x;
      if (!field || t < from || t > to) continue;
      const x = across(paper, field, t);
      draw(field.svg, "line", { class: "mark", x1: x, x2: x, y1: field.top, y2: field.bottom });
      for (const s of paper.plot.s.map((i) => data.series[i])) {
        const seen = around(s, t);
        if (seen === null) continue;
        const [low, high] = paper.plot.y;
        for (const v of new Set([seen.low, seen.high])) {
          const y = field.bottom - ((v - low) / (high - low)) * (field.bottom - field.top);
          draw(field.svg, "circle", { class: "dot", cx: x, cy: y, r: 7 });
        }
      }
      paper.element.setAttribute("aria-valuenow", t.toFixed(2));
    }
    tell(here, t);
  };

  const tell = (here, t) => {
    const phases = data.phases.filter((p) => p[1] <= t && t <= p[2]).map((p) => p[0]);
    const at = document.createElement("p");
    at.className = "at";
    at.textContent = `At ${clock(t)}${phases.length ? ` (${phases.join(", ")})` : ""}`;
    const list = document.createElement("ul");
    const said = [];
    const told = new Set();
    for (const { plot, name } of [here, ...papers]) {
      // The same channel may stand in pictures of several checks.
      const fresh = plot.s.filter((i) => !told.has(i));
      const seen = fresh.map((i) => [data.series[i], around(data.series[i], t)]).filter(([, seen]) => seen !== null || plot === here.plot);
      if (!seen.length) continue;
      fresh.forEach((i) => told.add(i));
      const item = document.createElement("li");
      if (plot === here.plot) item.className = "here";
      // A picture of one channel bears its name.
      if (seen.some(([s]) => s.n !== name)) item.append(`${name}: `);
      seen.forEach(([s, seen], place) => {
        const reading = document.createElement("span");
        reading.textContent = `${s.n} ${seen === null ? "none here" : figureOf(s, seen)}`;
        if (plot === here.plot) said.push(reading.textContent);
        item.append(place ? ", " : "", reading);
      });
      list.append(item);
    }
    panel.replaceChildren(at, list);
    panel.hidden = false;
    here.element.setAttribute("aria-valuetext", `${clock(t)}${said.length ? `: ${said.join(", ")}` : ""}`);
  };

  const clear = () => {
    unmark();
    now = null;
    panel.hidden = true;
  };

  // The moments at which a picture has a reading, in order.
  const moments = (paper) => {
    const times = new Set();
    for (const i of paper.plot.s) {
      const s = data.series[i];
      s.t.forEach((t, at) => { if (s.v[at] !== null) times.add(t); });
    }
    return [...times].sort((a, b) => a - b);
  };

  const key = (paper, event) => {
    const [from, to] = paper.plot.x;
    const times = (paper.times ??= moments(paper));
    const page = (to - from) / 20;
    let t = now ?? (event.key === "ArrowLeft" ? to : from);
    const by = (n) => {
      if (!times.length) return t + n * (to - from) / 200;
      const at = upTo(times, t + 1e-9);
      const exact = at >= 0 && Math.abs(times[at] - t) < 1e-6;
      const next = n > 0 ? at + 1 : exact ? at - 1 : at;
      return times[Math.max(0, Math.min(times.length - 1, next))];
    };
    if (event.key === "ArrowRight" || event.key === "ArrowUp") t = by(1);
    else if (event.key === "ArrowLeft" || event.key === "ArrowDown") t = by(-1);
    else if (event.key === "PageUp") t += page;
    else if (event.key === "PageDown") t -= page;
    else if (event.key === "Home") t = from;
    else if (event.key === "End") t = to;
    else if (event.key === "Escape") return clear();
    else return;
    event.preventDefault();
    show(paper, Math.max(from, Math.min(to, t)));
  };

  for (const paper of papers) {
    const { element, plot, name } = paper;
    element.tabIndex = 0;
    element.setAttribute("role", "slider");
    element.setAttribute("aria-label", `${name}: move along the time`);
    element.setAttribute("aria-valuemin", plot.x[0].toFixed(2));
    element.setAttribute("aria-valuemax", plot.x[1].toFixed(2));
    element.setAttribute("aria-valuenow", plot.x[0].toFixed(2));
    element.setAttribute("aria-valuetext", clock(plot.x[0]));
    element.addEventListener("keydown", (event) => key(paper, event));
    element.addEventListener("blur", clear);
    // The hand is faster than the page is drawn: only its last place counts.
    let pending = null;
    const point = (event) => {
      if (pending === null) requestAnimationFrame(() => { const last = pending; pending = null; follow(last); });
      pending = event;
    };
    const follow = (event) => {
      const field = shown(paper);
      if (!field) return;
      const box = field.svg.getBoundingClientRect();
      const x = ((event.clientX - box.left) / box.width) * field.svg.viewBox.baseVal.width;
      const [from, to] = plot.x;
      const t = from + ((x - field.left) / (field.right - field.left)) * (to - from);
      if (t >= from && t <= to) show(paper, t); else if (event.pointerType === "mouse") clear();
    };
    element.addEventListener("pointermove", point);
    element.addEventListener("pointerdown", point);
    element.addEventListener("pointerleave", (event) => {
      if (event.pointerType === "mouse" && document.activeElement !== element) clear();
    });
  }

  // A link to something inside a closed line opens it.
  const reveal = () => {
    const target = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
    if (!target) return;
    for (let at = target; at; at = at.parentElement) if (at.tagName === "DETAILS") at.open = true;
    (target.closest("details")?.querySelector("summary") ?? target).scrollIntoView();
  };
  addEventListener("hashchange", reveal);
  reveal();

  // On paper each warning is read in full.
  addEventListener("beforeprint", () => all("details.check.warn").forEach((line) => { line.open = true; }));

  for (const systems of all("section.systems")) {
    const tools = document.createElement("p");
    tools.className = "tools";
    for (const [words, open] of [["Open all", true], ["Close all", false]]) {
      const button = document.createElement("button");
      button.type = "button";
      button.textContent = words;
      button.addEventListener("click", () => all("details.check", systems).forEach((line) => { line.open = open; }));
      tools.append(button);
    }
    systems.querySelector("h2, h3").after(tools);
  }
})();
