
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

  // Points of one quantity against another, from left to right.
  for (const cloud of data.clouds) {
    cloud.points = cloud.s.flatMap((s) => s.p.map(([x, y, seconds]) => ({ n: s.n, x, y, seconds })));
    cloud.points.sort((a, b) => a.x - b.x);
  }

  const number = (s, v) => v.toFixed(s.d).replace(/^-(0(\.0*)?)$/, "$1");
  const figureOf = (s, seen) => {
    const [low, high] = [number(s, seen.low), number(s, seen.high)];
    return `${low === high ? low : `${low} to ${high}`}${s.u ? ` ${s.u}` : ""}`;
  };

  // The panel with all readings of one moment.
  const panel = document.createElement("section");
  panel.id = "reading";
  panel.setAttribute("aria-label", "Readings at the place pointed at");
  panel.hidden = true;
  document.querySelector("main").append(panel);

  const pictures = all(".paper[data-plot]").map((element) => ({
    element,
    plot: data.plots[Number(element.dataset.plot)],
    name: element.querySelector("svg").getAttribute("aria-label"),
  }));
  const papers = pictures.filter(({ plot }) => plot.cloud === undefined);

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
    for (const paper of pictures) paper.index = null;
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

  // One picture that keys and pointer move along, between two ends; `at` takes a place on its drawing and says whether it
  // shows anything there.
  const movable = (paper, { words, ends, text, keys, at }) => {
    const { element, name } = paper;
    element.tabIndex = 0;
    element.setAttribute("role", "slider");
    element.setAttribute("aria-label", `${name}: ${words}`);
    element.setAttribute("aria-valuemin", ends[0]);
    element.setAttribute("aria-valuemax", ends[1]);
    element.setAttribute("aria-valuenow", ends[0]);
    element.setAttribute("aria-valuetext", text);
    element.addEventListener("keydown", (event) => keys(paper, event));
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
      const { width, height } = field.svg.viewBox.baseVal;
      const x = ((event.clientX - box.left) / box.width) * width;
      const y = ((event.clientY - box.top) / box.height) * height;
      if (!at(paper, field, x, y) && event.pointerType === "mouse") clear();
    };
    element.addEventListener("pointermove", point);
    element.addEventListener("pointerdown", point);
    element.addEventListener("pointerleave", (event) => {
      // The page may move on under a resting pointer while keys move along another picture.
      const keys = pictures.some((other) => other.element === document.activeElement);
      if (event.pointerType === "mouse" && !keys) clear();
    });
  };

  const inTime = (paper, field, x) => {
    const [from, to] = paper.plot.x;
    const t = from + ((x - field.left) / (field.right - field.left)) * (to - from);
    if (!(t >= from && t <= to)) return false;
    show(paper, t);
    return true;
  };
  for (const paper of papers) {
    const ends = paper.plot.x.map((t) => t.toFixed(2));
    movable(paper, { words: "move along the time", ends, text: clock(paper.plot.x[0]), keys: key, at: inTime });
  }

  // Points: the one that is nearest, with its values on both axes and the time behind it.
  const place = (paper, field, { x, y }) => {
    const [low, high] = paper.plot.y;
    return [across(paper, field, x), field.bottom - ((y - low) / (high - low)) * (field.bottom - field.top)];
  };
  const sayPoint = (paper, index) => {
    const cloud = paper.cloud, point = cloud.points[index];
    const field = shown(paper);
    if (!field) return;
    unmark();
    now = null;
    paper.index = index;
    const [cx, cy] = place(paper, field, point);
    draw(field.svg, "line", { class: "mark", x1: cx, x2: cx, y1: field.top, y2: field.bottom });
    draw(field.svg, "circle", { class: "dot", cx, cy, r: 7 });
    const unit = (axis) => (axis.u && axis.u !== axis.n ? ` ${axis.u}` : "");
    const where = cloud.x.u === cloud.x.n ? `${number(cloud.x, point.x)} ${cloud.x.u}` : `${cloud.x.n} ${number(cloud.x, point.x)}${unit(cloud.x)}`;
    const time = point.seconds === undefined ? "" : `, over ${point.seconds.toFixed(2)} s`;
    const said = `${point.n} ${number(cloud.y, point.y)}${unit(cloud.y)}${time}`;
    const at = document.createElement("p");
    at.className = "at";
    at.textContent = `At ${where}`;
    const list = document.createElement("ul"), item = document.createElement("li"), reading = document.createElement("span");
    item.className = "here";
    reading.textContent = said;
    item.append(`${paper.name}: `, reading);
    list.append(item);
    panel.replaceChildren(at, list);
    panel.hidden = false;
    paper.element.setAttribute("aria-valuenow", index + 1);
    paper.element.setAttribute("aria-valuetext", `${where}: ${said}`);
  };
  const pointKey = (paper, event) => {
    const last = paper.cloud.points.length - 1, page = Math.max(1, Math.round(last / 10));
    const from = paper.index;
    let index;
    if (event.key === "ArrowRight" || event.key === "ArrowUp") index = from === null ? 0 : from + 1;
    else if (event.key === "ArrowLeft" || event.key === "ArrowDown") index = from === null ? last : from - 1;
    else if (event.key === "PageUp") index = (from ?? 0) + page;
    else if (event.key === "PageDown") index = (from ?? last) - page;
    else if (event.key === "Home") index = 0;
    else if (event.key === "End") index = last;
    else if (event.key === "Escape") return clear();
    else return;
    event.preventDefault();
    sayPoint(paper, Math.max(0, Math.min(last, index)));
  };
  const nearest = (paper, field, x, y) => {
    if (x < field.left - 20 || x > field.right + 20 || y < field.top - 20 || y > field.bottom + 20) return false;
    let best = -1, least = Infinity;
    paper.cloud.points.forEach((point, index) => {
      const [px, py] = place(paper, field, point);
      const far = (px - x) ** 2 + (py - y) ** 2;
      if (far < least) [best, least] = [index, far];
    });
    sayPoint(paper, best);
    return true;
  };
  for (const paper of pictures.filter(({ plot }) => plot.cloud !== undefined)) {
    paper.cloud = data.clouds[paper.plot.cloud];
    paper.index = null;
    const count = paper.cloud.points.length;
    if (count) movable(paper, { words: "move from point to point", ends: [1, count], text: `${count} points`, keys: pointKey, at: nearest });
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
