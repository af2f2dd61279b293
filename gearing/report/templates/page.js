"use strict";
// On paper the folded evidence stands open.
const folded = () => document.querySelectorAll("details.more:not([open])");
addEventListener("beforeprint", () => folded().forEach((one) => { one.open = true; one.dataset.closed = ""; }));
addEventListener("afterprint", () => document.querySelectorAll("details[data-closed]").forEach((one) => {
  one.open = false;
  delete one.dataset.closed;
}));

// A link into folded evidence opens it.
const unfold = () => {
  const goal = location.hash.length > 1 && document.getElementById(decodeURIComponent(location.hash.slice(1)));
  const fold = goal && goal.closest("details:not([open])");
  if (fold) { fold.open = true; goal.scrollIntoView(); }
};
addEventListener("hashchange", unfold);
unfold();

// A table too wide turns: each row a block whose cells say which column they are of.
const turn = (table) => {
  const heads = [...table.tHead.rows[0].cells].map((cell) => cell.textContent);
  for (const row of table.tBodies[0].rows)
    [...row.cells].forEach((cell, i) => {
      if (i) cell.dataset.head = heads[i];
      cell.classList.toggle("blank", i > 0 && cell.textContent.trim() === "-");
    });
  table.classList.add("turned");
};
// A table that is all in sight is no stop for the keyboard.
const scrollers = () => document.querySelectorAll(".scroll").forEach((one) => {
  one.firstElementChild.classList.remove("turned");
  if (one.scrollWidth > one.clientWidth) turn(one.firstElementChild);
  one.tabIndex = one.scrollWidth > one.clientWidth ? 0 : -1;
});
addEventListener("resize", scrollers);
document.addEventListener("toggle", scrollers, true);
scrollers();

// Draws each chart in place of its still picture, once it is in sight; without script that stays.
(async () => {
  const held = document.getElementById("specs");
  if (!held) return;
  const { config, rows, specs } = JSON.parse(held.textContent);
  const datasets = Object.fromEntries(Object.entries(rows).map(([name, [columns, ...cells]]) =>
    [name, cells.map((row) => Object.fromEntries(columns.map((column, i) => [column, row[i]])))]));
  const beside = 70; // pixels that labels take beside a stacked picture, as in chart.py
  const options = {
    actions: false, config, renderer: "svg", defaultStyle: false, tooltip: { disableDefaultStyle: true },
  };
  // The nearest point's texts lie one step deeper than its figures are looked for.
  options.patch = (drawn) => {
    const walk = (mark) => {
      const tip = mark.encode?.update?.tooltip;
      if (mark.encode?.update?.isVoronoi && tip?.signal) tip.signal = tip.signal.replace(/(?<!datum\.)datum\[/g, "datum.datum[");
      mark.marks?.forEach(walk);
    };
    drawn.marks.forEach(walk);
    return drawn;
  };
  const views = new Map();
  const draw = async (id, spec) => {
    const place = document.getElementById(id);
    if (views.has(id) || !place.parentElement.clientWidth || place.closest("details:not([open])")) return;
    views.set(id, null);
    for (const part of spec.vconcat ?? []) {
      part.width = place.parentElement.clientWidth - beside;
      part.layer.at(-1).encoding.tooltip = spec.vconcat[0].layer.at(-1).encoding.tooltip;
    }
    try {
      const { view } = await window.vegaEmbed(place, { ...spec, datasets }, options);
      views.set(id, view);
      place.parentElement.classList.add("drawn");
    } catch (error) {
      place.replaceChildren();
      console.error(id, error);
    }
  };
  let queue = Promise.resolve();
  const drawAll = () => {
    delete document.documentElement.dataset.charts;
    queue = queue.then(async () => {
      for (const [id, spec] of Object.entries(specs)) {
        await draw(id, spec);
        await new Promise((done) => setTimeout(done, 0)); // let the page breathe between charts
      }
      document.documentElement.dataset.charts = "drawn";
    });
  };
  // A finger's tap is taken for a pointer that came and stays until the next tap.
  let finger = false;
  addEventListener("pointerdown", (event) => {
    document.getElementById("vg-tooltip-element")?.classList.remove("visible");
    finger = event.pointerType === "touch";
    if (!finger || !event.target.closest(".live")) return;
    const { clientX, clientY } = event;
    event.target.dispatchEvent(new PointerEvent("pointermove", { clientX, clientY, bubbles: true }));
  });
  for (const kind of ["pointerout", "pointerleave", "mouseout"])
    addEventListener(kind, (event) => { if (finger) event.stopPropagation(); }, true);
  document.addEventListener("toggle", drawAll, true);
  addEventListener("resize", () => {
    for (const [id, view] of views) {
      const width = document.getElementById(id).clientWidth - beside;
      if (view && specs[id].vconcat && width > 0) view.signal("width", width).runAsync();
    }
  });
  drawAll();
})();
