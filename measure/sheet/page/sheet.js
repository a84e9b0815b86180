"use strict";
// Every text of a value was made where it was measured: this script chooses among them and rounds nothing.
(() => {
  const data = JSON.parse(document.getElementById("data").textContent);
  const byId = (id) => document.getElementById(id);
  const dims = data.dimensions;
  const narrow = matchMedia("(max-width: 1149px)");
  const still = matchMedia("(prefers-reduced-motion: reduce)");
  const body = byId("rows");
  const rows = [...body.rows];
  const figures = [...document.querySelectorAll("figure.picture")];
  const panel = byId("panel");
  const behind = [document.querySelector("header"), byId("dimensions"), document.querySelector(".rest")];
  const state = { sort: "number", down: false, chosen: -1, picture: 0 };
  document.documentElement.classList.add("script");

  const scale = () => Number(byId("scale").value);
  const unit = () => Number(byId("unit").value);
  const textOf = (dim, s = scale()) => {
    const texts = dim.texts[s];
    return texts[Math.min(unit(), texts.length - 1)];
  };
  const make = (tag, className, text) => {
    const element = document.createElement(tag);
    if (className) element.className = className;
    if (text !== undefined) element.textContent = text;
    return element;
  };

  const unbroken = (text) => text.replace(/ ± (\S+) /, " ±\u00a0$1\u00a0");

  // Weak: no value, or U of the original above the tolerance.
  const toleranceOf = (dim) => {
    if (dim.ownTolerance !== null) return dim.ownTolerance;
    const typed = dim.unit === "mm" ? byId("tolerance-mm") : dim.unit === "deg" ? byId("tolerance-deg") : null;
    return typed && typed.value !== "" && Number(typed.value) > 0 ? Number(typed.value) : Infinity;
  };
  const isWeak = (dim) => dim.problem !== "" || dim.U > toleranceOf(dim);

  // Table ------------------------------------------------------------------------------------------

  const unitOrder = { mm: 0, mm2: 1, deg: 2, ratio: 3 };
  const keys = {
    number: (d) => [d.number],
    name: (d) => [d.name],
    kind: (d) => [d.kind],
    value: (d) => [unitOrder[d.unit], d.value],
    U: (d) => [unitOrder[d.unit], d.U],
    k: (d) => [d.kValue],
    dof: (d) => [d.dofValue],
    from: (d) => [d.budget.length ? d.budget[0][0] : "", d.budget.length ? -d.budget[0][1] : 0],
    picture: (d) => [d.pictures.length ? d.pictures[0] : 1e9],
  };
  const needsValue = new Set(["value", "U", "k", "dof", "from"]);
  const words = new Intl.Collator("en", { numeric: true, sensitivity: "base" });

  function compare(a, b) {
    if (needsValue.has(state.sort) && (a.problem !== "") !== (b.problem !== "")) return a.problem !== "" ? 1 : -1;
    const ka = keys[state.sort](a), kb = keys[state.sort](b);
    for (let i = 0; i < ka.length; ++i) {
      const by = typeof ka[i] === "string" ? words.compare(ka[i], kb[i]) : ka[i] - kb[i];
      if (by) return state.down ? -by : by;
    }
    return a.number - b.number;
  }

  function sortRows() {
    const order = dims.map((_, i) => i).sort((a, b) => compare(dims[a], dims[b]));
    for (const i of order) body.append(rows[i]);
    for (const button of document.querySelectorAll("thead button[data-sort]")) {
      const is = button.dataset.sort === state.sort;
      button.classList.toggle("by", is);
    }
    for (const head of document.querySelectorAll("#table thead th")) {
      if (head.querySelector("button.by")) head.setAttribute("aria-sort", state.down ? "descending" : "ascending");
      else head.removeAttribute("aria-sort");
    }
    byId("sort").value = state.sort;
    byId("direction").textContent = state.down ? "descending" : "ascending";
  }

  function sortBy(key, down) {
    state.down = down === undefined ? state.sort === key && !state.down : down;
    state.sort = key;
    sortRows();
  }

  function filterRows() {
    const wanted = byId("filter").value.trim().toLowerCase().split(/\s+/).filter(Boolean);
    const kind = byId("kind").value, onlyWeak = byId("weak").checked;
    let shown = 0, weak = 0;
    dims.forEach((dim, i) => {
      const isIt = isWeak(dim);
      rows[i].classList.toggle("weak", isIt);
      const text = `${dim.number} ${dim.name} ${dim.kind} ${dim.sentence}`.toLowerCase();
      const fits = wanted.every((word) => text.includes(word)) && (kind === "" || dim.kind === kind) && (!onlyWeak || isIt);
      rows[i].hidden = !fits;
      shown += fits ? 1 : 0;
      weak += isIt ? 1 : 0;
    });
    byId("count").textContent = `${shown} of ${dims.length} dimensions shown; ${weak} weak`;
  }

  // Texts ------------------------------------------------------------------------------------------

  const pen = document.createElement("canvas").getContext("2d");
  pen.font = '27px "DejaVu Sans", Verdana, "Segoe UI", Roboto, sans-serif';
  const pad = data.labelPadding;

  function writeTexts() {
    dims.forEach((dim, i) => {
      const cell = rows[i].querySelector(".value");
      cell.firstChild.textContent = dim.problem === "" ? unbroken(textOf(dim)) : "no value: " + dim.problem;
      cell.classList.toggle("none", dim.problem !== "");
    });
    byId("value-head").textContent = data.scales[scale()];
    for (const group of document.querySelectorAll("g.dim")) {
      const text = group.querySelector("text.of");
      const dim = dims[Number(group.dataset.dim)];
      text.textContent = dim.symbol + textOf(dim);
      const label = group.querySelector(".label"), badge = Number(label.dataset.badge);
      const width = badge + 2 * pad + Math.min(pen.measureText(text.textContent).width, Number(label.dataset.room));
      const plate = label.querySelector(".plate"), left = -width / 2;
      plate.setAttribute("x", left);
      plate.setAttribute("width", width);
      label.querySelector(".badge").setAttribute("x", left);
      label.querySelector(".number").setAttribute("x", left + pad);
      text.setAttribute("x", left + badge + pad);
      group.setAttribute("aria-label", `${dim.number}, ${dim.name}: ${text.textContent}`);
    }
    for (const caption of document.querySelectorAll(".at-scale")) caption.textContent = data.scales[scale()];
    if (state.chosen >= 0) writeDetail();
  }

  function shareList(shares, classOf) {
    const list = make("ul", "shares");
    for (const [name, share, text, detail] of shares) {
      const item = make("li");
      const what = make("span", "", name);
      if (detail) what.append(" ", make("span", "hash", detail));
      const track = make("span", "track"), part = make("span", classOf ? classOf(name) : "");
      part.style.width = `${100 * share}%`;
      track.append(part);
      item.append(what, make("span", "amount", text), track);
      list.append(item);
    }
    return list;
  }

  function writeDetail() {
    const dim = dims[state.chosen], detail = byId("detail");
    detail.replaceChildren();
    const head = make("h3", "", `${dim.number}  ${dim.name}`);
    head.id = "detail-head";
    head.tabIndex = -1;
    detail.append(head);
    detail.append(make("p", "", `${dim.kind}: ${dim.sentence}`));
    if (dim.problem !== "") {
      detail.append(make("p", "big weak", "no value: " + dim.problem));
    } else {
      detail.append(make("p", isWeak(dim) ? "big weak" : "big", `${textOf(dim)}${isWeak(dim) ? " (weak)" : ""}`));
      const list = make("dl");
      const add = (term, text) => list.append(make("dt", "", term), make("dd", "", text));
      data.scales.forEach((name, s) => add(name, textOf(dim, s)));
      add("coverage", dim.interval ? "limits that hold the true value with p = 95.45 %" : `U = k·u, k = ${dim.k}, p = 95.45 %`);
      add("degrees of freedom", `ν eff = ${dim.dof}`);
      if (dim.reliability.length) {
        add("a blunder that the test just misses", `changes it by ${dim.reliability[Math.min(unit(), dim.reliability.length - 1)]} at most (original)`);
      }
      if (dim.note) add("remark", dim.note);
      detail.append(list);
    }
    const where = make("div", "bar-of-tools");
    for (const p of [...dim.pictures, ...dim.alsoIn]) {
      const button = make("button", "", `picture ${p + 1}`);
      button.type = "button";
      button.dataset.picture = p;
      if (p === state.picture) button.setAttribute("aria-current", "true");
      button.addEventListener("click", () => { showPicture(p); zoomToChosen(); writeDetail(); focusDetail(); });
      where.append(button);
    }
    const toRow = make("button", "", "show in the table");
    toRow.type = "button";
    toRow.id = "to-row";
    toRow.addEventListener("click", () => { closePanel(); focusRow(state.chosen); });
    where.append(toRow);
    detail.append(where);
    if (!dim.pictures.length) detail.append(make("p", "hint", "No photograph of this sheet shows it."));
    if (dim.weak.length) {
      detail.append(make("h4", "", "What would help"));
      const list = make("ul");
      for (const sentence of dim.weak) list.append(make("li", "", sentence));
      detail.append(list);
    }
    for (const [title, shares, classOf] of [
      ["Budget: where the variance comes from", dim.budget, (name) => name.replace(" ", "-")],
      ["Photos that carry it", dim.photos, () => "marks"], ["Its strongest marks", dim.marks, () => "marks"],
      ["Bars, cameras and the rest", dim.others, null]]) {
      if (!shares.length) continue;
      detail.append(make("h4", "", title), shareList(shares, classOf));
    }
  }

  // Photographs ------------------------------------------------------------------------------------

  const svgOf = (p) => figures[p].querySelector("svg");
  const whole = (p) => [0, 0, data.pictures[p].width, data.pictures[p].height];
  let view = figures.length ? whole(0) : [0, 0, 1, 1];
  let moving = 0;

  function setView(next) {
    const [, , w, h] = whole(state.picture);
    const width = Math.min(Math.max(next[2], w / 16), w), height = width * h / w;
    view = [Math.min(Math.max(next[0], 0), w - width), Math.min(Math.max(next[1], 0), h - height), width, height];
    svgOf(state.picture).setAttribute("viewBox", view.map((v) => Math.round(v * 100) / 100).join(" "));
    byId("zoom-out").disabled = byId("zoom-whole").disabled = width >= w - 0.01;
    byId("zoom-in").disabled = width <= w / 16 + 0.01;
  }

  function moveView(next) {
    const mine = ++moving, from = view, start = performance.now();
    if (still.matches || document.hidden) return setView(next);
    const step = (now) => {
      if (mine !== moving) return;
      const t = Math.min(1, (now - start) / 220), eased = t * (2 - t);
      setView(t >= 1 ? next : from.map((v, i) => v + eased * (next[i] - v)));
      if (t < 1) requestAnimationFrame(step);
    };
    requestAnimationFrame(step);
  }

  function zoom(factor, at) {
    ++moving;
    const [x, y, w, h] = view, centre = at || [x + w / 2, y + h / 2];
    const [, , fullW] = whole(state.picture);
    const width = Math.min(Math.max(w / factor, fullW / 16), fullW), real = w / width;
    setView([centre[0] - (centre[0] - x) / real, centre[1] - (centre[1] - y) / real, width, h / real]);
  }

  function showPicture(p) {
    if (!figures.length) return;
    ++moving;
    svgOf(state.picture).setAttribute("viewBox", whole(state.picture).join(" "));
    state.picture = p;
    figures.forEach((figure, i) => { figure.hidden = i !== p; });
    byId("where").textContent = `Picture ${p + 1} of ${figures.length}: ${data.pictures[p].photo}`;
    byId("earlier").disabled = p === 0;
    byId("later").disabled = p === figures.length - 1;
    setView(whole(p));
    markChosen();
  }

  function markChosen() {
    figures.forEach((figure) => {
      let any = false;
      for (const group of figure.querySelectorAll("g.dim")) {
        const is = Number(group.dataset.dim) === state.chosen;
        group.classList.toggle("chosen", is);
        group.setAttribute("aria-pressed", String(is));
        any = any || is;
      }
      figure.querySelector("svg").classList.toggle("one", any);
    });
    rows.forEach((row, i) => {
      row.classList.toggle("chosen", i === state.chosen);
      const button = row.querySelector(".name");
      if (i === state.chosen) button.setAttribute("aria-current", "true");
      else button.removeAttribute("aria-current");
    });
  }

  function zoomToChosen() {
    if (!figures.length) return;
    const group = svgOf(state.picture).querySelector("g.dim.chosen");
    if (!group) return moveView(whole(state.picture));
    const box = group.getBBox(), [, , w, h] = whole(state.picture);
    const css = svgOf(state.picture).getBoundingClientRect().width || 600;
    // Texts of 27 units shall be some 14 pixels high, and all of the dimension be seen.
    const width = Math.min(w, Math.max(1.25 * box.width, 1.25 * box.height * w / h, 27 * css / 14));
    const height = width * h / w;
    moveView([box.x + box.width / 2 - width / 2, box.y + box.height / 2 - height / 2, width, height]);
  }

  // Choosing ---------------------------------------------------------------------------------------

  function focusDetail() {
    const head = byId("detail-head");
    if (head) head.focus({ preventScroll: true });
  }

  function focusRow(i) {
    if (rows[i].hidden) {
      byId("filter").value = "";
      byId("kind").value = "";
      byId("weak").checked = false;
      filterRows();
    }
    rows[i].scrollIntoView({ block: "center" });
    rows[i].querySelector(".name").focus({ preventScroll: true });
  }

  function openPanel() {
    panel.classList.add("open");
    if (!narrow.matches) return;
    panel.setAttribute("role", "dialog");
    panel.setAttribute("aria-modal", "true");
    for (const part of behind) part.inert = true;
    document.body.classList.add("covered");
  }

  function closePanel() {
    panel.classList.remove("open");
    panel.setAttribute("role", "region");
    panel.removeAttribute("aria-modal");
    for (const part of behind) part.inert = false;
    document.body.classList.remove("covered");
  }

  function choose(i, fromPicture) {
    state.chosen = i;
    const dim = dims[i], here = [...dim.pictures, ...dim.alsoIn];
    openPanel();
    if (fromPicture) {
      markChosen();
      if (!narrow.matches) rows[i].scrollIntoView({ block: "nearest" });
    } else if (here.length) {
      showPicture(here.includes(state.picture) ? state.picture : here[0]);
      zoomToChosen();
    } else {
      markChosen();
    }
    writeDetail();
    panel.scrollTop = 0;
    if (narrow.matches && !fromPicture) focusDetail();
    byId("said").textContent = `${dim.name}: ${dim.problem === "" ? textOf(dim) : "no value"}`;
  }

  function chooseNone() {
    const was = state.chosen;
    state.chosen = -1;
    closePanel();
    markChosen();
    byId("detail").replaceChildren(make("p", "hint", "Choose a dimension in the table or in a photograph."));
    if (figures.length) moveView(whole(state.picture));
    if (was >= 0) focusRow(was);
  }

  // Events -----------------------------------------------------------------------------------------

  body.addEventListener("click", (event) => {
    const row = event.target.closest("tr");
    if (row) choose(rows.indexOf(row), false);
  });
  body.addEventListener("keydown", (event) => {
    const button = event.target.closest(".name");
    if (!button) return;
    const shown = [...body.rows].filter((row) => !row.hidden), at = shown.indexOf(button.closest("tr"));
    const to = { ArrowDown: at + 1, ArrowUp: at - 1, Home: 0, End: shown.length - 1 }[event.key];
    if (to === undefined || !shown[to]) return;
    event.preventDefault();
    shown[to].querySelector(".name").focus();
  });
  for (const button of document.querySelectorAll("thead button[data-sort]")) {
    button.addEventListener("click", () => sortBy(button.dataset.sort));
  }
  byId("sort").addEventListener("change", () => sortBy(byId("sort").value, false));
  byId("direction").addEventListener("click", () => sortBy(state.sort, !state.down));
  for (const id of ["filter", "tolerance-mm", "tolerance-deg"]) byId(id).addEventListener("input", () => { filterRows(); if (state.chosen >= 0) writeDetail(); });
  for (const id of ["kind", "weak"]) byId(id).addEventListener("change", filterRows);
  for (const id of ["unit", "scale"]) byId(id).addEventListener("change", writeTexts);
  byId("tools").addEventListener("submit", (event) => event.preventDefault());
  byId("close").addEventListener("click", chooseNone);
  document.addEventListener("keydown", (event) => {
    if (event.key === "Escape" && (state.chosen >= 0 || panel.classList.contains("open"))) chooseNone();
  });
  narrow.addEventListener("change", () => { if (panel.classList.contains("open")) { closePanel(); openPanel(); } });

  if (figures.length) {
    byId("earlier").addEventListener("click", () => showPicture(state.picture - 1));
    byId("later").addEventListener("click", () => showPicture(state.picture + 1));
    byId("zoom-in").addEventListener("click", () => zoom(1.5));
    byId("zoom-out").addEventListener("click", () => zoom(1 / 1.5));
    byId("zoom-whole").addEventListener("click", () => moveView(whole(state.picture)));
    byId("browse").addEventListener("click", openPanel);
    figures.forEach((figure) => {
      const frame = figure.querySelector(".view"), pointers = new Map();
      let moved = 0;
      const place = (event) => {
        const svg = frame.querySelector("svg").getBoundingClientRect();
        const factor = Math.max(view[2] / svg.width, view[3] / svg.height);
        return [view[0] + view[2] / 2 + (event.clientX - svg.left - svg.width / 2) * factor,
                view[1] + view[3] / 2 + (event.clientY - svg.top - svg.height / 2) * factor];
      };
      const dimensionAt = (event) => event.target.closest("g.dim");
      let pressed = null;
      frame.addEventListener("pointerdown", (event) => {
        if (event.button !== 0) return;
        pointers.set(event.pointerId, [event.clientX, event.clientY]);
        if (pointers.size === 1) { moved = 0; pressed = dimensionAt(event); }
        frame.setPointerCapture(event.pointerId);
      });
      frame.addEventListener("pointermove", (event) => {
        const last = pointers.get(event.pointerId);
        if (!last) return;
        const svg = frame.querySelector("svg").getBoundingClientRect();
        const factor = Math.max(view[2] / svg.width, view[3] / svg.height);
        const dx = event.clientX - last[0], dy = event.clientY - last[1];
        moved += Math.abs(dx) + Math.abs(dy);
        if (pointers.size === 2) {
          const other = [...pointers].find(([id]) => id !== event.pointerId)[1];
          const before = Math.hypot(last[0] - other[0], last[1] - other[1]);
          const after = Math.hypot(event.clientX - other[0], event.clientY - other[1]);
          if (before > 0) zoom(after / before, place(event));
        } else if (moved > 6) {
          ++moving;
          setView([view[0] - dx * factor, view[1] - dy * factor, view[2], view[3]]);
        }
        pointers.set(event.pointerId, [event.clientX, event.clientY]);
      });
      const end = (event) => {
        if (!pointers.delete(event.pointerId)) return;
        if (event.type === "pointerup" && moved <= 6 && pressed && !pointers.size) choose(Number(pressed.dataset.dim), true);
      };
      frame.addEventListener("pointerup", end);
      frame.addEventListener("pointercancel", end);
      frame.addEventListener("wheel", (event) => {
        if (!event.ctrlKey) return;
        event.preventDefault();
        zoom(Math.exp(-event.deltaY / 200), place(event));
      }, { passive: false });
      frame.addEventListener("keydown", (event) => {
        const group = event.target.closest("g.dim");
        if (group && (event.key === "Enter" || event.key === " ")) {
          event.preventDefault();
          choose(Number(group.dataset.dim), true);
          return;
        }
        const step = 0.15 * view[2];
        const by = { ArrowLeft: [-step, 0], ArrowRight: [step, 0], ArrowUp: [0, -step], ArrowDown: [0, step] }[event.key];
        if (by) {
          event.preventDefault();
          setView([view[0] + by[0], view[1] + by[1], view[2], view[3]]);
        } else if (event.key === "+" || event.key === "=") {
          zoom(1.5);
        } else if (event.key === "-") {
          zoom(1 / 1.5);
        } else if (event.key === "0") {
          moveView(whole(state.picture));
        }
      });
    });
    showPicture(0);
  }
  // The title block takes a whole screen of a phone; paper shows it always.
  const about = document.querySelector("header details");
  about.open = !narrow.matches;
  window.addEventListener("beforeprint", () => { about.open = true; });
  sortRows();
  filterRows();
  writeTexts();
})();
